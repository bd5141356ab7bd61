//go:build !purego

#include "textflag.h"
#include "vector_amd64.h"

// The loops over p and q. For all passes SI walks through the blocks of the
// first input stream, R8 bytes from one stream to the next; DI walks through
// those of the first output stream, R10 bytes from one to the next.

// func radix2AVX2(dst, src, tw *float64, m, s int)
TEXT ·radix2AVX2(SB), NOSPLIT, $0-40
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ tw+16(FP), BX
	MOVQ m+24(FP), CX
	MOVQ s+32(FP), R10
	SHLQ $4, R10
	MOVQ R10, R8
	IMULQ CX, R8
outer:
	MOVQ R10, DX
	VBROADCASTSD (BX), Y12
	VBROADCASTSD 8(BX), Y13
inner:
	VMOVUPD (SI), Y0
	VMOVUPD 32(SI), Y1
	VMOVUPD (SI)(R8*1), Y2
	VMOVUPD 32(SI)(R8*1), Y3
	VADDPD Y2, Y0, Y4
	VADDPD Y3, Y1, Y5
	VSUBPD Y2, Y0, Y6
	VSUBPD Y3, Y1, Y7
	TIMES(Y12, Y13, Y6, Y7, Y8, Y9)
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, 32(DI)
	VMOVUPD Y8, (DI)(R10*1)
	VMOVUPD Y9, 32(DI)(R10*1)
	ADDQ $64, SI
	ADDQ $64, DI
	SUBQ $64, DX
	JNZ  inner
	ADDQ $16, BX
	ADDQ R10, DI
	DECQ CX
	JNZ  outer
	VZEROUPPER
	RET

// func radix4AVX2(dst, src, tw *float64, m, s int)
TEXT ·radix4AVX2(SB), NOSPLIT, $0-40
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ tw+16(FP), BX
	MOVQ m+24(FP), CX
	MOVQ s+32(FP), R10
	SHLQ $4, R10
	LEAQ (R10)(R10*2), R11
	MOVQ R10, R8
	IMULQ CX, R8
	LEAQ (R8)(R8*2), R9
	CMPQ CX, $1
	JEQ  last
outer:
	MOVQ R10, DX
inner:
	LOAD4
	FOUR
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, 32(DI)
	VBROADCASTSD (BX), Y12
	VBROADCASTSD 8(BX), Y13
	TIMES(Y12, Y13, Y6, Y7, Y0, Y1)
	VMOVUPD Y0, (DI)(R10*1)
	VMOVUPD Y1, 32(DI)(R10*1)
	VBROADCASTSD 16(BX), Y14
	VBROADCASTSD 24(BX), Y15
	TIMES(Y14, Y15, Y8, Y9, Y2, Y3)
	VMOVUPD Y2, (DI)(R10*2)
	VMOVUPD Y3, 32(DI)(R10*2)
	VBROADCASTSD 32(BX), Y12
	VBROADCASTSD 40(BX), Y13
	TIMES(Y12, Y13, Y10, Y11, Y0, Y1)
	VMOVUPD Y0, (DI)(R11*1)
	VMOVUPD Y1, 32(DI)(R11*1)
	ADDQ $64, SI
	ADDQ $64, DI
	SUBQ $64, DX
	JNZ  inner
	ADDQ $48, BX
	ADDQ R11, DI
	DECQ CX
	JNZ  outer
	VZEROUPPER
	RET
last:                          // no twiddle factors
	MOVQ R10, DX
lastinner:
	LOAD4
	FOUR
	VMOVUPD Y4, (DI)
	VMOVUPD Y5, 32(DI)
	VMOVUPD Y6, (DI)(R10*1)
	VMOVUPD Y7, 32(DI)(R10*1)
	VMOVUPD Y8, (DI)(R10*2)
	VMOVUPD Y9, 32(DI)(R10*2)
	VMOVUPD Y10, (DI)(R11*1)
	VMOVUPD Y11, 32(DI)(R11*1)
	ADDQ $64, SI
	ADDQ $64, DI
	SUBQ $64, DX
	JNZ  lastinner
	VZEROUPPER
	RET
