//go:build !purego

#include "textflag.h"

// Sums of products, and lines that are turned to rest or taken out; sound.go and
// humline.go have them in Go.

// func dotAVX2(a, b *float64, n int) float64
TEXT ·dotAVX2(SB), NOSPLIT, $0-32
	MOVQ a+0(FP), SI
	MOVQ b+8(FP), DI
	MOVQ n+16(FP), CX
	VXORPD Y0, Y0, Y0
	VXORPD Y1, Y1, Y1
	VXORPD Y2, Y2, Y2
	VXORPD Y3, Y3, Y3
	SHRQ $4, CX
	JZ   done
loop:
	VMOVUPD (SI), Y4
	VMOVUPD 32(SI), Y5
	VMOVUPD 64(SI), Y6
	VMOVUPD 96(SI), Y7
	VFMADD231PD (DI), Y4, Y0
	VFMADD231PD 32(DI), Y5, Y1
	VFMADD231PD 64(DI), Y6, Y2
	VFMADD231PD 96(DI), Y7, Y3
	ADDQ $128, SI
	ADDQ $128, DI
	DECQ CX
	JNZ  loop
done:
	VADDPD Y1, Y0, Y0
	VADDPD Y3, Y2, Y2
	VADDPD Y2, Y0, Y0
	VEXTRACTF128 $1, Y0, X1
	VADDPD X1, X0, X0
	VHADDPD X0, X0, X0
	VMOVSD X0, ret+24(FP)
	VZEROUPPER
	RET

// The wave at AX: cosines, sines, those of a turn, a, b and their steps.
#define WAVE \
	VMOVUPD 0(AX), Y0 \
	VMOVUPD 32(AX), Y1 \
	VMOVUPD 64(AX), Y2 \
	VMOVUPD 96(AX), Y3 \
	VBROADCASTSD 128(AX), Y4 \
	VBROADCASTSD 136(AX), Y5

// Turns cosines p and sines q on.
#define TURN(p, q) \
	VMULPD Y5, q, Y14 \
	VMULPD Y5, p, Y15 \
	VFMSUB213PD Y14, Y4, p \
	VFMADD213PD Y15, Y4, q

// Adds up a vector of samples; d are their places.
#define ADDUP(at, p, q, d) \
	VMOVUPD at(SI), Y13 \
	VMULPD p, Y13, Y14 \
	VMULPD q, Y13, Y15 \
	VADDPD Y14, Y9, Y9 \
	VSUBPD Y15, Y10, Y10 \
	VFMADD231PD Y14, d, Y11 \
	VFNMADD231PD Y15, d, Y12 \
	VADDPD Y8, d, d

// The sum of the four numbers in y, to an address.
#define TOTAL(y, x, at) \
	VEXTRACTF128 $1, y, X13 \
	VADDPD X13, x, x \
	VHADDPD x, x, x \
	VMOVSD x, at(DX)

// func atRestAVX2(x *float64, n int, w *wave, sums *[4]float64)
TEXT ·atRestAVX2(SB), NOSPLIT, $0-32
	MOVQ x+0(FP), SI
	MOVQ n+8(FP), CX
	MOVQ w+16(FP), AX
	MOVQ sums+24(FP), DX
	WAVE
	VMOVUPD 144(AX), Y6
	VMOVUPD 176(AX), Y7
	VBROADCASTSD 272(AX), Y8
	VXORPD Y9, Y9, Y9
	VXORPD Y10, Y10, Y10
	VXORPD Y11, Y11, Y11
	VXORPD Y12, Y12, Y12
	SHRQ $3, CX
	JZ   done
loop:
	ADDUP(0, Y0, Y2, Y6)
	TURN(Y0, Y2)
	ADDUP(32, Y1, Y3, Y7)
	TURN(Y1, Y3)
	ADDQ $64, SI
	DECQ CX
	JNZ  loop
done:
	TOTAL(Y9, X9, 0)
	TOTAL(Y10, X10, 8)
	TOTAL(Y11, X11, 16)
	TOTAL(Y12, X12, 24)
	VZEROUPPER
	RET

// Takes a line of amplitude a + jb from a vector of samples.
#define TAKE(at, p, q, a, b) \
	VMOVUPD at(SI), Y13 \
	VFNMADD231PD a, p, Y13 \
	VFMADD231PD b, q, Y13 \
	VMOVUPD Y13, at(SI) \
	VADDPD Y10, a, a \
	VADDPD Y11, b, b

// func takeLineAVX2(x *float64, n int, w *wave)
TEXT ·takeLineAVX2(SB), NOSPLIT, $0-24
	MOVQ x+0(FP), SI
	MOVQ n+8(FP), CX
	MOVQ w+16(FP), AX
	WAVE
	VMOVUPD 144(AX), Y6
	VMOVUPD 176(AX), Y7
	VMOVUPD 208(AX), Y8
	VMOVUPD 240(AX), Y9
	VBROADCASTSD 272(AX), Y10
	VBROADCASTSD 280(AX), Y11
	SHRQ $3, CX
	JZ   done
loop:
	TAKE(0, Y0, Y2, Y6, Y8)
	TURN(Y0, Y2)
	TAKE(32, Y1, Y3, Y7, Y9)
	TURN(Y1, Y3)
	ADDQ $64, SI
	DECQ CX
	JNZ  loop
done:
	VZEROUPPER
	RET
