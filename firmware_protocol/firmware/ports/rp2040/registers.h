/* The registers of the RP2040 that the port uses, by the chip's data sheet (its chapters in brackets). */
#ifndef REGISTERS_H
#define REGISTERS_H

#include <stdint.h>

#define REG(at) (*(volatile uint32_t *)(at))
#define SET 0x2000u /* added to an address of most peripherals: set these bits, clear these bits [2.1.2] */
#define CLR 0x3000u

#define RESETS 0x4000c000u /* [2.14] +8: done */
#define RESET_IO (1u << 5)
#define RESET_PADS (1u << 8)
#define RESET_PLL_SYS (1u << 12)
#define RESET_PLL_USB (1u << 13)
#define RESET_PWM (1u << 14)
#define RESET_TIMER (1u << 21)
#define RESET_UART0 (1u << 22)
#define RESET_USB (1u << 24)

#define PSM_WDSEL 0x40010008u /* [2.13] what the watchdog resets */
#define CLOCKS 0x40008000u    /* [2.15] */
#define CLK_SYS (CLOCKS + 0x3c)
#define CLK_PERI (CLOCKS + 0x48)
#define CLK_USB (CLOCKS + 0x54)
#define CLK_ENABLE (1u << 11)
#define PLL_SYS 0x40028000u /* [2.18] */
#define PLL_USB 0x4002c000u

#define IO_BANK0 0x40014000u /* [2.19] */
#define IO_CTRL(pin) REG(IO_BANK0 + 4 + 8 * (pin))
#define IO_INTR0 REG(IO_BANK0 + 0x0f0) /* pins 0 to 7, four bits each; the upper two are edges */
#define IO_INTE0 REG(IO_BANK0 + 0x100)
#define FUNCTION_UART 2u
#define FUNCTION_PWM 4u
#define FUNCTION_SIO 5u
#define FUNCTION_NONE 31u
#define OVER_INVERTED (1u << 8)
#define OVER_LOW (2u << 8)
#define OVER_HIGH (3u << 8)
#define PAD(pin) REG(0x4001c004u + 4 * (pin))
#define PAD_OUTPUT 0x56u        /* input on, Schmitt trigger, 4 mA, pull-down */
#define PAD_INPUT_PULLED_UP 0x5au
#define SIO 0xd0000000u /* [2.3.1] */
#define GPIO_IN REG(SIO + 0x04)
#define GPIO_OUT REG(SIO + 0x10)
#define GPIO_SET REG(SIO + 0x14)
#define GPIO_CLR REG(SIO + 0x18)
#define GPIO_OUTPUTS REG(SIO + 0x24)

#define UART0 0x40034000u /* [4.2] */
#define UART_DATA REG(UART0)
#define UART_FLAGS REG(UART0 + 0x18)
#define UART_BUSY (1u << 3)
#define UART_RX_EMPTY (1u << 4)
#define UART_TX_FULL (1u << 5)
#define UART_MASK (UART0 + 0x38)
#define UART_RX_INTERRUPT (1u << 4)
#define UART_TX_INTERRUPT (1u << 5)
#define PWM3 (0x40050000u + 3 * 0x14u) /* [4.5] CSR, DIV, CTR, CC, TOP */
#define PWM3_COMPARE REG(PWM3 + 0x0c)
#define TIMER 0x40054000u /* [4.6] microseconds */
#define TIMER_NOW REG(TIMER + 0x28)
#define TIMER_ALARM REG(TIMER + 0x10)
#define TIMER_INTR REG(TIMER + 0x34)
#define TIMER_INTE REG(TIMER + 0x38)
#define WATCHDOG 0x40058000u /* [4.7] */
#define WATCHDOG_LOAD REG(WATCHDOG + 0x04)
#define WATCHDOG_REASON REG(WATCHDOG + 0x08)
#define WATCHDOG_TICK REG(WATCHDOG + 0x2c)

#define SSI 0x18000000u        /* [4.10] the flash's interface */
#define FLASH_SELECT 0x4001800cu /* [2.19.6.2] GPIO_QSPI_SS_CTRL */

/* The core's own [2.4] */
#define SYSTICK 0xe000e010u /* control, reload, now */
#define NVIC_ENABLE REG(0xe000e100u)
#define NVIC_DISABLE REG(0xe000e180u)
#define NVIC_PEND REG(0xe000e200u)
#define NVIC_PRIORITY(irq) (*(volatile uint32_t *)(0xe000e400u + ((irq) & ~3u)))
#define SHPR3 REG(0xe000ed20u)
#define IRQ_TIMER 0u
#define IRQ_USB 5u
#define IRQ_PINS 13u
#define IRQ_UART0 20u

#endif
