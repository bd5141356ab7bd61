//go:build !purego

#include "textflag.h"

// Eight values at a time; near.go has it in Go.

// func upToAVX2(x *float32, n int, v float32) int
TEXT ·upToAVX2(SB), NOSPLIT, $0-32
	MOVQ x+0(FP), SI
	MOVQ n+8(FP), CX
	VBROADCASTSS v+16(FP), Y0
	VPXOR Y1, Y1, Y1
	SHRQ $3, CX
	JZ   done
loop:
	VMOVUPS (SI), Y2
	VCMPPS $0x12, Y0, Y2, Y2 // not above
	VPSUBD Y2, Y1, Y1
	ADDQ $32, SI
	DECQ CX
	JNZ  loop
done:
	VEXTRACTI128 $1, Y1, X2
	VPADDD X2, X1, X1
	VPSHUFD $0x4e, X1, X2
	VPADDD X2, X1, X1
	VPSHUFD $0xb1, X1, X2
	VPADDD X2, X1, X1
	VMOVD X1, AX
	MOVLQZX AX, AX
	MOVQ AX, ret+24(FP)
	VZEROUPPER
	RET
