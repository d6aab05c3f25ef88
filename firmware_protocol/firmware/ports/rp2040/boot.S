/* The boot stage: 252 bytes at most and their CRC-32, which images/uf2.py puts behind them. The chip's ROM copies it to
 * its uppermost RAM and calls it. It sets the flash's interface to plain reads (command 03h, which every flash chip
 * of these boards knows), copies the whole program to RAM and jumps there: flash is never executed from, so it may be
 * erased and written while edges count. */
	.cpu cortex-m0plus
	.thumb
	.syntax unified
	.section .boot, "ax"
	.global boot_stage
	.thumb_func
boot_stage:
	ldr r3, =0x40024000      /* the crystal: 12 MHz, so that copying takes 0.1 s on every board */
	ldr r1, =752             /* which may take 16 ms to begin */
	str r1, [r3, #0x0c]
	ldr r1, =0x00fabaa0
	str r1, [r3]
1:	ldr r1, [r3, #0x04]
	cmp r1, #0               /* its highest bit: stable */
	bge 1b
	ldr r3, =0x40008030      /* the reference clock, and with it the system's */
	movs r1, #2
	str r1, [r3]
	movs r2, #4
1:	ldr r1, [r3, #0x08]
	tst r1, r2
	beq 1b
	ldr r3, =0x18000000      /* SSI */
	movs r1, #0
	str r1, [r3, #0x08]      /* SSIENR: off while it is set */
	movs r1, #2
	str r1, [r3, #0x14]      /* BAUDR: 6 MHz */
	ldr r1, =0x001f0300      /* CTRLR0: frames of 32 bits, EEPROM read */
	str r1, [r3, #0x00]
	ldr r1, =0x03000218      /* SPI_CTRLR0: 03h, instruction of 8 bits, address of 24 */
	movs r2, #0xf4
	str r1, [r3, r2]
	movs r1, #0
	str r1, [r3, #0x04]      /* CTRLR1: one frame a read */
	movs r1, #1
	str r1, [r3, #0x08]
	ldr r0, =image_in_flash
	ldr r1, =image_begin
	ldr r2, =image_end
1:	ldmia r0!, {r3-r6}
	stmia r1!, {r3-r6}
	cmp r1, r2
	blo 1b
	ldr r0, =image_begin
	ldr r1, =0xe000ed08      /* VTOR: the vectors come first */
	str r0, [r1]
	ldmia r0!, {r1, r2}
	msr msp, r1
	bx r2
	.ltorg
