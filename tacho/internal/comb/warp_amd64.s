//go:build !purego

#include "textflag.h"

// Four interpolated samples at a time; warp.go has it in Go.

// func interpolateAVX2(dst, x *float64, at *int32, weights *float32, n int)
TEXT ·interpolateAVX2(SB), NOSPLIT, $0-40
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ at+16(FP), BX
	MOVQ weights+24(FP), DX
	MOVQ n+32(FP), CX
	SHRQ $2, CX
	JZ   done
loop:
	MOVLQSX (BX), R8
	MOVLQSX 4(BX), R9
	MOVLQSX 8(BX), R10
	MOVLQSX 12(BX), R11
	VCVTPS2PD (DX), Y0
	VCVTPS2PD 16(DX), Y1
	VCVTPS2PD 32(DX), Y2
	VCVTPS2PD 48(DX), Y3
	VMULPD (SI)(R8*8), Y0, Y0
	VMULPD (SI)(R9*8), Y1, Y1
	VMULPD (SI)(R10*8), Y2, Y2
	VMULPD (SI)(R11*8), Y3, Y3
	VHADDPD Y1, Y0, Y4          // halves of sums 0, 1
	VHADDPD Y3, Y2, Y5          // halves of sums 2, 3
	VBLENDPD $12, Y5, Y4, Y6
	VPERM2F128 $0x21, Y5, Y4, Y7
	VADDPD Y7, Y6, Y6
	VMOVUPD Y6, (DI)
	ADDQ $16, BX
	ADDQ $64, DX
	ADDQ $32, DI
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET

// func multiplyAVX2(dst, x, w *float64, n int)
TEXT ·multiplyAVX2(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), SI
	MOVQ w+16(FP), DX
	MOVQ n+24(FP), CX
	SHRQ $2, CX
	JZ   end
next:
	VMOVUPD (SI), Y0
	VMULPD (DX), Y0, Y0
	VMOVUPD Y0, (DI)
	ADDQ $32, SI
	ADDQ $32, DX
	ADDQ $32, DI
	DECQ CX
	JNZ  next
end:
	VZEROUPPER
	RET
