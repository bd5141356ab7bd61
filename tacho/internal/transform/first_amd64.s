//go:build !purego

#include "textflag.h"
#include "vector_amd64.h"

// Four columns A, B, C, D, lanes in the order 0, 2, 1, 3, become four rows in
// order at offsets 0, 64, 128, 192 and OFF of (DI). It uses T0 to T3.
#define ROWS(A, B, C, D, OFF, T0, T1, T2, T3) \
	VUNPCKLPD B, A, T0 \
	VUNPCKHPD B, A, T1 \
	VUNPCKLPD D, C, T2 \
	VUNPCKHPD D, C, T3 \
	VPERM2F128 $0x20, T2, T0, A \
	VPERM2F128 $0x31, T2, T0, B \
	VPERM2F128 $0x20, T3, T1, C \
	VPERM2F128 $0x31, T3, T1, D \
	VMOVUPD A, OFF(DI) \
	VMOVUPD B, (OFF+64)(DI) \
	VMOVUPD C, (OFF+128)(DI) \
	VMOVUPD D, (OFF+192)(DI)

// Four complex numbers in turn at MEM become their real parts and imaginary
// parts, lanes in the order 0, 2, 1, 3. It uses Y15.
#define SPLIT(LO, HI, RE, IM) \
	VMOVUPD LO, RE \
	VMOVUPD HI, Y15 \
	VUNPCKHPD Y15, RE, IM \
	VUNPCKLPD Y15, RE, RE

// func firstAVX2(dst, src, tw *float64, m int)
TEXT ·firstAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ tw+16(FP), BX
	MOVQ m+24(FP), CX
	MOVQ CX, R8
	SHLQ $4, R8                // bytes from one quarter of src to the next
	LEAQ (R8)(R8*2), R9
	SHRQ $2, CX                // groups of four p
	JZ   done
loop:
	SPLIT((SI), 32(SI), Y0, Y1)
	SPLIT((SI)(R8*1), 32(SI)(R8*1), Y2, Y3)
	SPLIT((SI)(R8*2), 32(SI)(R8*2), Y4, Y5)
	SPLIT((SI)(R9*1), 32(SI)(R9*1), Y6, Y7)
	FOUR
	VMOVUPD (BX), Y12
	VMOVUPD 32(BX), Y13
	TIMES(Y12, Y13, Y6, Y7, Y0, Y1)
	VMOVUPD 64(BX), Y12
	VMOVUPD 96(BX), Y13
	TIMES(Y12, Y13, Y8, Y9, Y2, Y3)
	VMOVUPD 128(BX), Y12
	VMOVUPD 160(BX), Y13
	TIMES(Y12, Y13, Y10, Y11, Y6, Y7)
	ROWS(Y4, Y0, Y2, Y6, 0, Y8, Y9, Y10, Y11)
	ROWS(Y5, Y1, Y3, Y7, 32, Y12, Y13, Y14, Y15)
	ADDQ $64, SI
	ADDQ $256, DI
	ADDQ $192, BX
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET
