//go:build !purego

#include "textflag.h"
#include "vector_amd64.h"

// The steps between the passes of columns, for processors with AVX2 and FMA;
// columns.go has the formulas.

// Four complex numbers in turn at OFF(SI) become a block at OFF(DI).
#define GATHER(OFF) \
	VMOVUPD OFF(SI), Y0 \
	VMOVUPD (OFF+32)(SI), Y1 \
	VPERM2F128 $0x20, Y1, Y0, Y2 \
	VPERM2F128 $0x31, Y1, Y0, Y3 \
	VUNPCKLPD Y3, Y2, Y4 \
	VUNPCKHPD Y3, Y2, Y5 \
	VMOVUPD Y4, OFF(DI) \
	VMOVUPD Y5, (OFF+32)(DI)

// func gatherAVX2(dst, src *float64, r, c int)
TEXT ·gatherAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ r+16(FP), CX
	MOVQ c+24(FP), R8
	SHLQ $4, R8
loop:
	GATHER(0)
	GATHER(64)
	GATHER(128)
	GATHER(192)
	ADDQ R8, SI
	ADDQ $256, DI
	DECQ CX
	JNZ  loop
	VZEROUPPER
	RET

// One block of four columns at OFF(SI) times its turn, to (RE, IM). The coarse
// factor is (Y14, Y15), the fine one at FINE(R9). It uses Y8 to Y13.
#define TURN(OFF, FINE, RE, IM) \
	VMOVUPD FINE(R9), Y8 \
	VMOVUPD (FINE+32)(R9), Y9 \
	TIMES(Y14, Y15, Y8, Y9, Y10, Y11) \
	VMOVUPD OFF(SI), Y12 \
	VMOVUPD (OFF+32)(SI), Y13 \
	TIMES(Y10, Y11, Y12, Y13, RE, IM)

// Four blocks A, B, C, D of one part become rows at OFF of (DI), 256 bytes
// apart.
#define ROWS(A, B, C, D, OFF) \
	VUNPCKLPD B, A, Y8 \
	VUNPCKHPD B, A, Y9 \
	VUNPCKLPD D, C, Y10 \
	VUNPCKHPD D, C, Y11 \
	VPERM2F128 $0x20, Y10, Y8, A \
	VPERM2F128 $0x20, Y11, Y9, B \
	VPERM2F128 $0x31, Y10, Y8, C \
	VPERM2F128 $0x31, Y11, Y9, D \
	VMOVUPD A, OFF(DI) \
	VMOVUPD B, (OFF+256)(DI) \
	VMOVUPD C, (OFF+512)(DI) \
	VMOVUPD D, (OFF+768)(DI)

// func turnAVX2(dst, src, coarse, fine *float64, r, c int)
TEXT ·turnAVX2(SB), NOSPLIT, $0-48
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ coarse+16(FP), BX
	MOVQ fine+24(FP), R9
	MOVQ r+32(FP), CX
	MOVQ c+40(FP), R8
	SHLQ $8, R8                // bytes in a strip of dst
	SUBQ $256, R8              // less those of the inner loop
	SHRQ $4, CX
outer:
	VMOVUPD (BX), Y14
	VMOVUPD 32(BX), Y15
	MOVQ $4, DX
inner:
	TURN(0, 0, Y0, Y1)
	TURN(256, 64, Y2, Y3)
	TURN(512, 128, Y4, Y5)
	TURN(768, 192, Y6, Y7)
	ROWS(Y0, Y2, Y4, Y6, 0)
	ROWS(Y1, Y3, Y5, Y7, 32)
	ADDQ $1024, SI
	ADDQ $256, R9
	ADDQ $64, DI
	DECQ DX
	JNZ  inner
	SUBQ $1024, R9
	ADDQ $64, BX
	ADDQ R8, DI
	DECQ CX
	JNZ  outer
	VZEROUPPER
	RET
