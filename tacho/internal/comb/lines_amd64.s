//go:build !purego

#include "textflag.h"

// Eight bins at a time; lines.go has it in Go.

DATA exponent<>+0(SB)/4, $127
GLOBL exponent<>(SB), RODATA|NOPTR, $4
DATA mantissa<>+0(SB)/4, $0x007fffff
GLOBL mantissa<>(SB), RODATA|NOPTR, $4
DATA unit<>+0(SB)/4, $0x3f800000
GLOBL unit<>(SB), RODATA|NOPTR, $4
DATA faint<>+0(SB)/4, $0xc1f00000
GLOBL faint<>(SB), RODATA|NOPTR, $4
DATA fifteen<>+0(SB)/4, $0x41700000
GLOBL fifteen<>(SB), RODATA|NOPTR, $4
DATA seven<>+0(SB)/4, $7
DATA seven<>+4(SB)/4, $7
DATA seven<>+8(SB)/4, $7
DATA seven<>+12(SB)/4, $7
DATA seven<>+16(SB)/4, $7
DATA seven<>+20(SB)/4, $7
DATA seven<>+24(SB)/4, $7
DATA seven<>+28(SB)/4, $7
GLOBL seven<>(SB), RODATA|NOPTR, $32

// func logarithmsAVX2(u, sum *float32, power *float64, floor, poly *float32, n int)
TEXT ·logarithmsAVX2(SB), NOSPLIT, $0-48
	MOVQ u+0(FP), DI
	MOVQ sum+8(FP), DX
	MOVQ power+16(FP), SI
	MOVQ floor+24(FP), BX
	MOVQ poly+32(FP), AX
	MOVQ n+40(FP), CX
	SHRQ $3, CX
	JZ   done
	VBROADCASTSS 0(AX), Y8
	VBROADCASTSS 4(AX), Y9
	VBROADCASTSS 8(AX), Y10
	VBROADCASTSS 12(AX), Y11
	VPBROADCASTD exponent<>(SB), Y12
	VPBROADCASTD mantissa<>(SB), Y13
	VBROADCASTSS unit<>(SB), Y14
	VBROADCASTSS faint<>(SB), Y15
	VMOVDQU seven<>(SB), Y7
	VXORPS Y6, Y6, Y6           // the sum of all before
loop:
	VCVTPD2PSY (SI), X0
	VCVTPD2PSY 32(SI), X1
	VINSERTF128 $1, X1, Y0, Y0
	VPSRLD $23, Y0, Y1
	VPSUBD Y12, Y1, Y1
	VCVTDQ2PS Y1, Y1            // the exponent
	VANDPS Y13, Y0, Y0
	VORPS  Y14, Y0, Y0
	VSUBPS Y14, Y0, Y0          // the mantissa less one
	VMOVAPS Y11, Y2
	VFMADD213PS Y10, Y0, Y2
	VFMADD213PS Y9, Y0, Y2
	VFMADD213PS Y8, Y0, Y2
	VFMADD213PS Y1, Y0, Y2
	VSUBPS (BX), Y2, Y2
	VMAXPS Y15, Y2, Y2
	VMOVUPS Y2, (DI)
	VPSLLDQ $4, Y2, Y3
	VADDPS Y3, Y2, Y2
	VPSLLDQ $8, Y2, Y3
	VADDPS Y3, Y2, Y2
	VPERM2F128 $0x08, Y2, Y2, Y3 // the lower four into the upper half
	VSHUFPS $0xff, Y3, Y3, Y3    // their last sum in all places
	VADDPS Y3, Y2, Y2
	VPERMPS Y2, Y7, Y4
	VADDPS Y6, Y2, Y2
	VMOVUPS Y2, (DX)
	VADDPS Y4, Y6, Y6
	ADDQ $64, SI
	ADDQ $32, DI
	ADDQ $32, DX
	ADDQ $32, BX
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func contrastAVX2(ev, u, sum, share *float32, curve *float32, scale *float32, n int)
//
// curve holds three times sixteen coefficients; scale the mean logarithm of noise,
// and what u is multiplied by and what is added for the piece of the curve.
TEXT ·contrastAVX2(SB), NOSPLIT, $0-56
	MOVQ ev+0(FP), DI
	MOVQ u+8(FP), SI
	MOVQ sum+16(FP), BX
	MOVQ share+24(FP), DX
	MOVQ curve+32(FP), AX
	MOVQ scale+40(FP), R8
	MOVQ n+48(FP), CX
	SHRQ $3, CX
	JZ   done
	VMOVUPS 0(AX), Y6
	VMOVUPS 32(AX), Y7
	VMOVUPS 64(AX), Y8
	VMOVUPS 96(AX), Y9
	VMOVUPS 128(AX), Y10
	VMOVUPS 160(AX), Y11
	VBROADCASTSS 0(R8), Y12
	VBROADCASTSS 4(R8), Y13
	VBROADCASTSS 8(R8), Y14
	VBROADCASTSS fifteen<>(SB), Y15
loop:
	VXORPS Y5, Y5, Y5
	VMOVUPS 132(BX), Y0
	VSUBPS (BX), Y0, Y0
	VMOVAPS Y12, Y1
	VFMADD231PS (DX), Y0, Y1    // mean of the neighbourhood over that of noise
	VMAXPS Y5, Y1, Y1
	VMOVUPS (SI), Y0
	VSUBPS Y1, Y0, Y0
	VMOVUPS Y0, (SI)
	VFMADD213PS Y14, Y13, Y0
	VMAXPS Y5, Y0, Y0           // places along the curve
	VMINPS Y15, Y0, Y1
	VCVTTPS2DQ Y1, Y1           // pieces
	VCVTDQ2PS Y1, Y2
	VSUBPS Y2, Y0, Y0           // places in them
	VPSLLD $28, Y1, Y2          // the sign says which half of the coefficients
	VPERMPS Y10, Y1, Y3
	VPERMPS Y11, Y1, Y4
	VBLENDVPS Y2, Y4, Y3, Y3
	VPERMPS Y8, Y1, Y4
	VPERMPS Y9, Y1, Y5
	VBLENDVPS Y2, Y5, Y4, Y4
	VFMADD213PS Y4, Y0, Y3
	VPERMPS Y6, Y1, Y4
	VPERMPS Y7, Y1, Y5
	VBLENDVPS Y2, Y5, Y4, Y4
	VFMADD213PS Y4, Y0, Y3
	VADDPS (DI), Y3, Y3
	VMOVUPS Y3, (DI)
	ADDQ $32, DI
	ADDQ $32, SI
	ADDQ $32, BX
	ADDQ $32, DX
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func peaksAVX2(dst *int32, ev, u *float32, least float32, lo, n int) int
//
// It looks at n bins from lo on.
TEXT ·peaksAVX2(SB), NOSPLIT, $0-56
	MOVQ dst+0(FP), DI
	MOVQ ev+8(FP), BX
	MOVQ u+16(FP), SI
	VBROADCASTSS least+24(FP), Y7
	MOVQ lo+32(FP), DX
	MOVQ n+40(FP), CX
	MOVQ DI, R9
	SHRQ $3, CX
	JZ   done
loop:
	VMOVUPS (SI)(DX*4), Y0
	VCMPPS $0x1e, -4(SI)(DX*4), Y0, Y1 // above the one before
	VCMPPS $0x1d, 4(SI)(DX*4), Y0, Y2  // not below the next
	VMOVUPS (BX)(DX*4), Y3
	VCMPPS $0x1e, Y7, Y3, Y3
	VANDPS Y2, Y1, Y1
	VANDPS Y3, Y1, Y1
	VMOVMSKPS Y1, AX
	TESTL AX, AX
	JZ   next
bits:
	BSFL AX, R8
	ADDL DX, R8
	MOVL R8, (DI)
	ADDQ $4, DI
	LEAL -1(AX), R8
	ANDL R8, AX
	JNZ  bits
next:
	ADDQ $8, DX
	DECQ CX
	JNZ  loop
done:
	SUBQ R9, DI
	SHRQ $2, DI
	MOVQ DI, ret+48(FP)
	VZEROUPPER
	RET

// func weighCombsAVX2(sums, steps, ev, prior *float32, top float32, harmonics, n int)
//
// Eight combs at a time, harmonic by harmonic. The two bins around each line are
// fetched one line after the other.
TEXT ·weighCombsAVX2(SB), NOSPLIT, $32-56
	MOVQ sums+0(FP), DI
	MOVQ steps+8(FP), SI
	MOVQ ev+16(FP), BX
	VBROADCASTSS top+32(FP), Y15
	MOVQ n+48(FP), CX
	SHRQ $3, CX
	JZ   done
	VPCMPEQD Y14, Y14, Y14
	VPSLLD $23, Y14, Y14        // minus infinity
combs:
	MOVQ prior+24(FP), DX
	MOVQ harmonics+40(FP), R9
	VMOVUPS (SI), Y0            // steps
	VMOVAPS Y0, Y1              // places
	VXORPS Y2, Y2, Y2           // sums
	VMOVAPS Y14, Y3             // the best of them
lines:
	VCMPPS $0x11, Y15, Y1, Y13  // below the top
	VMOVMSKPS Y13, AX
	TESTL AX, AX
	JZ   next
	VMINPS Y15, Y1, Y5
	VCVTTPS2DQ Y5, Y6
	VMOVDQU Y6, place-32(SP)
	VCVTDQ2PS Y6, Y7
	VSUBPS Y7, Y5, Y5
	MOVL place-32(SP), R8
	MOVL place-28(SP), R10
	MOVL place-24(SP), R11
	MOVL place-20(SP), R12
	VMOVSD (BX)(R8*4), X8
	VMOVSD (BX)(R11*4), X9
	VMOVHPS (BX)(R10*4), X8, X8
	VMOVHPS (BX)(R12*4), X9, X9
	MOVL place-16(SP), R8
	MOVL place-12(SP), R10
	MOVL place-8(SP), R11
	MOVL place-4(SP), R12
	VMOVSD (BX)(R8*4), X10
	VMOVSD (BX)(R11*4), X11
	VMOVHPS (BX)(R10*4), X10, X10
	VMOVHPS (BX)(R12*4), X11, X11
	VINSERTF128 $1, X10, Y8, Y8
	VINSERTF128 $1, X11, Y9, Y9
	VSHUFPS $0x88, Y9, Y8, Y10  // the bins below
	VSHUFPS $0xdd, Y9, Y8, Y11  // and above
	VSUBPS Y10, Y11, Y11
	VFMADD231PS Y11, Y5, Y10
	VADDPS Y10, Y2, Y2
	VBROADCASTSS (DX), Y4
	VADDPS Y4, Y2, Y4
	VBLENDVPS Y13, Y4, Y14, Y4
	VMAXPS Y4, Y3, Y3
	VADDPS Y0, Y1, Y1
	ADDQ $4, DX
	DECQ R9
	JNZ  lines
next:
	VMOVUPS Y3, (DI)
	ADDQ $32, SI
	ADDQ $32, DI
	DECQ CX
	JNZ  combs
done:
	VZEROUPPER
	RET
