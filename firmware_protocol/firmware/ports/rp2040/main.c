/* A winding board on an RP2040: boot, interrupts, pins and the main loop around the portable core.
 *
 * The sensor's interrupt clears what asked for it, then reads both pins and compares them with what they were: a
 * disturbance that is gone by then has changed nothing and counts nothing, and one that lasts longer counts one up
 * and one down. With four counts a period a jump over a state means that an edge was missed; it is told to the core,
 * so that the count is never wrong in silence. It comes before all others; the millisecond comes last.
 */
#include "core.h"
#include "guide.h"
#include "settings.h"

uint16_t port_bounce_ticks, port_least_ticks;
uint32_t port_off, port_pulses = FUNCTION_NONE;

/* Half of the least rate at which a count was lost with everything on, or less (docs/firmware.md). With two counts a
 * period the way is read from B, which changes half a count later; a pulse has two interrupts. */
#define FOUR_EDGES_MOST_CPS 300000u
#define TWO_EDGES_MOST_CPS 150000u
#define ONE_PULSE_MOST_CPS 125000u

/* A board that was never taught counts the edges of A and B and drives nothing. */
struct msg_welcome identity = {
    .board = "rp2040",
    .groups = {1, 0, 0, 0, 0, 1},
    .has = HAS_DIRECTION_SENSE,
    .edge_rate_max_cps = FOUR_EDGES_MOST_CPS,
};
struct msg_settings settings;

#define SENSOR_PINS (PIN(GP_A) | PIN(GP_B))
#define EDGES_OF(gp) (0xcu << 4 * (gp))
#define LINES (1u << IRQ_USB | 1u << IRQ_UART0)
#define SENDING_US_MOST 50000u

static uint32_t sensor_before; /* levels at the newest interrupt; only touched there */
static uint32_t counted_pins;  /* those whose edges count */
static uint32_t filter_us;

/* --- before anything else ----------------------------------------------------------------------------- */

extern uint32_t bss_begin[], bss_end[], stack_top[];
int main(void);

static void release(uint32_t blocks) {
    REG(RESETS + CLR) = blocks;
    while (~REG(RESETS + 8) & blocks) {
    }
}

/* Before variables exist. The pins are inputs after a reset of any kind and a resistor keeps the motor off, until the
 * settings say which level is off. */
__attribute__((noreturn)) static void reset(void) {
    release(RESET_IO | RESET_PADS);
    for (uint32_t *at = bss_begin; at < bss_end; at++)
        *at = 0;
    main();
    for (;;) {
    }
}

/* What no program should do: everything off, and the watchdog begins anew. */
__attribute__((noreturn)) static void fault(void) {
    __asm volatile("cpsid i");
    port_cut();
    port_brake(0);
    port_contactor(false);
    for (;;) {
    }
}

/* --- set-up ------------------------------------------------------------------------------------------- */

static void run_pll(uint32_t pll, uint32_t times, uint32_t by, uint32_t and_by) {
    REG(pll) = 1;
    REG(pll + 8) = times;
    REG(pll + 4 + CLR) = 1u | 1u << 5; /* power, oscillator */
    while (!(REG(pll) & 1u << 31)) {
    }
    REG(pll + 12) = by << 16 | and_by << 12;
    REG(pll + 4 + CLR) = 1u << 3; /* what divides */
}

static void switch_clock(uint32_t clock, uint32_t to) {
    REG(clock) = to;
    while (!(REG(clock + 8) & 1u << to)) {
    }
}

/* 125 MHz for the program, 48 MHz for USB, both from the crystal's 12 MHz, which the boot stage has set. */
static void set_up_clocks(void) {
    switch_clock(CLK_SYS, 0);
    REG(RESETS + SET) = RESET_PLL_SYS | RESET_PLL_USB;
    release(RESET_PLL_SYS | RESET_PLL_USB);
    run_pll(PLL_SYS, 125, 6, 2);
    run_pll(PLL_USB, 100, 5, 5);
    switch_clock(CLK_SYS, 1);
    REG(CLK_PERI) = CLK_ENABLE;
    REG(CLK_USB) = CLK_ENABLE;
    WATCHDOG_TICK = 12 | 1u << 9; /* a microsecond, also for the timer */
    release(RESET_PWM | RESET_TIMER | RESET_UART0 | RESET_USB);
}

static void set_up_pins(void) {
    static const uint8_t inputs[] = {GP_A, GP_B, GP_GUARD, GP_WIRE, GP_PEDAL, GP_STOP, GP_LIMIT};
    for (uint8_t i = 0; i < sizeof inputs; i++) {
        PAD(inputs[i]) = PAD_INPUT_PULLED_UP;
        IO_CTRL(inputs[i]) = FUNCTION_SIO;
    }
    PAD(GP_RX) = PAD_INPUT_PULLED_UP;
    IO_CTRL(GP_RX) = IO_CTRL(GP_TX) = FUNCTION_UART;
    REG(PWM3 + 0x04) = 1u << 4;
    REG(PWM3 + 0x10) = DUTY_TOP;
    PWM3_COMPARE = 0;
    REG(PWM3) = 1;
    TIMER_INTE = 1;
}

/* Only now is it known which level is off: outputs become outputs, and each is off already. Without a driver none does. */
static void take_outputs(void) {
    static const struct {
        uint8_t low, gp;
    } outputs[] = {{LOW_ENABLE, GP_ENABLE}, {LOW_DUTY, GP_DUTY}, {LOW_BRAKE, GP_BRAKE},
                   {LOW_BACKWARD, GP_BACKWARD}, {LOW_CONTACTOR, GP_CONTACTOR}};
    port_off = 0;
    for (uint8_t i = 0; i < sizeof outputs / sizeof outputs[0]; i++)
        if (settings.low & outputs[i].low)
            port_off |= PIN(outputs[i].gp);
    bool drives = settings.driver != DRIVER_NONE;
    GPIO_SET = port_off;
    GPIO_CLR = PORT_OUTPUTS & ~port_off;
    port_pulses = drives ? FUNCTION_PWM : FUNCTION_NONE;
    IO_CTRL(GP_DUTY) = held_off(GP_DUTY);
    IO_CTRL(GP_BRAKE) = held_off(GP_BRAKE);
    GPIO_OUTPUTS = drives ? PORT_OUTPUTS : 0;
    for (uint32_t gp = 0; gp < 32; gp++)
        if (PORT_OUTPUTS >> gp & 1u)
            IO_CTRL(gp) = FUNCTION_SIO;
}

/* No queue behind the receiver: its interrupt comes with each byte. */
static void take_line(void) {
    uint32_t baud = settings.line == LINE_SPEED_FAST ? 500000u : 115200u;
    uint32_t divisor = (125000000u * 4u + baud / 2) / baud; /* in 64ths */
    REG(UART0 + 0x30) = 0;
    REG(UART0 + 0x24) = divisor >> 6;
    REG(UART0 + 0x28) = divisor & 63;
    REG(UART0 + 0x2c) = 3u << 5; /* 8N1 */
    REG(UART0 + 0x30) = 1u << 9 | 1u << 8 | 1u;
    REG(UART_MASK) = UART_RX_INTERRUPT;
}

void port_take_settings(void) {
    uint8_t before = port_lock();
    port_bounce_ticks = settings.bounce_us / 4u;
    port_least_ticks = settings.least_period_us / 4u;
    if (port_least_ticks > 3)
        port_least_ticks -= 3; /* an interrupt may be 12 us late */
    filter_us = settings.filter_us;
    counted_pins = settings.sensor == SENSOR_FOUR_EDGES ? SENSOR_PINS : PIN(GP_A);
    take_outputs();
    take_line();
    sensor_before = GPIO_IN & SENSOR_PINS;
    IO_INTE0 = settings.sensor == SENSOR_FOUR_EDGES ? EDGES_OF(GP_A) | EDGES_OF(GP_B) : EDGES_OF(GP_A);
    IO_INTR0 = EDGES_OF(GP_A) | EDGES_OF(GP_B);
    port_unlock(before);
}

static bool sending(void) {
    return link_rings.tx_head != link_rings.tx_tail || usb_is_sending() || UART_FLAGS & UART_BUSY;
}

/* The core begins anew, not the chip, which would take its USB port away from the computer. What is to be sent goes first,
 * for the serial line may take another speed. */
void port_restart(void) {
    uint32_t from = TIMER_NOW;
    while (sending() && TIMER_NOW - from < SENDING_US_MOST) {
    }
    NVIC_DISABLE = LINES;
    store_make_room();
    core_boot(false);
    NVIC_ENABLE = LINES;
}

/* The filter's time is spent at each edge of A, and of B where both count. */
uint32_t port_edge_rate_max_cps(uint8_t sensor, uint8_t filter) {
    if (filter)
        return 1000000u / (sensor == SENSOR_FOUR_EDGES ? 1u : 2u) / (filter * 2u + 8u);
    return sensor == SENSOR_FOUR_EDGES  ? FOUR_EDGES_MOST_CPS
           : sensor == SENSOR_TWO_EDGES ? TWO_EDGES_MOST_CPS
                                        : ONE_PULSE_MOST_CPS;
}

static void set_priority(uint32_t irq, uint32_t priority) {
    uint32_t shift = 8 * (irq & 3u) + 6;
    NVIC_PRIORITY(irq) = (NVIC_PRIORITY(irq) & ~(3u << shift)) | priority << shift;
}

static void set_up_interrupts(void) {
    set_priority(IRQ_PINS, 0);
    set_priority(IRQ_TIMER, 1);
    set_priority(IRQ_USB, 1); /* as the serial line: both fill the one ring */
    set_priority(IRQ_UART0, 1);
    SHPR3 = 2u << 30; /* SysTick */
    /* It loads itself: an alarm that edges kept waiting would be set into the past and come after 71 minutes. */
    REG(SYSTICK + 4) = 124999;
    REG(SYSTICK + 8) = 0;
    REG(SYSTICK) = 7;
    NVIC_ENABLE = 1u << IRQ_PINS | 1u << IRQ_TIMER | LINES;
}

/* --- interrupts --------------------------------------------------------------------------------------- */

static void sensor(void) {
    IO_INTR0 = EDGES_OF(GP_A) | EDGES_OF(GP_B); /* first: what comes from here on asks again */
    uint32_t now = GPIO_IN & SENSOR_PINS, counted = counted_pins;
    if (filter_us) {
        uint32_t from = TIMER_NOW;
        while (TIMER_NOW - from <= filter_us) {
        }
        if ((GPIO_IN ^ now) & counted)
            return; /* it did not last; what it came back to is what it was */
    }
    uint32_t changed = now ^ sensor_before;
    if (!(changed & counted))
        return;
    sensor_before = now;
    if (!PORT_DIRECTION_SENSE && !(now & PIN(GP_A))) {
        edge_ended();
        return;
    }
    if (changed == SENSOR_PINS && counted == changed) {
        edge_missed();
        return;
    }
    bool backward = ((now >> 1) ^ now) & PIN(GP_A); /* B changed, to a level that is not that of A */
    if (changed & PIN(GP_A))
        backward = !backward;
    edge_seen(backward);
}

static void millisecond(void) {
    core_millisecond();
    NVIC_PEND = 1u << IRQ_USB;
}

static volatile uint32_t half_step_us; /* 0: it stands */

/* The next half step, as long after this one as was asked, but never into the past. Interrupts off. */
static void set_alarm(uint32_t at) {
    uint32_t soonest = TIMER_NOW + 2;
    TIMER_ALARM = (int32_t)(at - soonest) > 0 ? at : soonest;
}

static void half_step(void) {
    uint32_t at = TIMER_ALARM;
    TIMER_INTR = 1;
    if (half_step_us == 0)
        return;
    bool more = guide_pulse();
    uint8_t before = port_lock();
    if (more)
        set_alarm(at + half_step_us);
    else
        half_step_us = 0;
    port_unlock(before);
}

void port_steps(uint8_t period, bool anew) {
    bool stood = half_step_us == 0;
    half_step_us = (period + 1u) * 2u;
    if (anew || stood) {
        TIMER_INTR = 1;
        set_alarm(TIMER_NOW + half_step_us);
    }
}

static void serial(void) {
    bool in_use = !usb_is_open();
    while (!(UART_FLAGS & UART_RX_EMPTY)) {
        uint32_t byte = UART_DATA;
        /* A byte with an error is no byte. Without it, or one that overran, the frame's CRC fails. */
        if (in_use && !(byte & 0x700))
            link_received((uint8_t)byte);
    }
    while (!(UART_FLAGS & UART_TX_FULL)) {
        uint8_t byte;
        if (!in_use || !link_next(&byte)) {
            REG(UART_MASK + CLR) = UART_TX_INTERRUPT;
            return;
        }
        UART_DATA = byte;
    }
    /* Only now that it is full: allowed before, it would ask again at once, for ever. */
    REG(UART_MASK + SET) = UART_TX_INTERRUPT;
}

__attribute__((section(".vectors"), used)) static const void *const vectors[16 + 26] = {
    stack_top, reset, fault, fault,
    [11] = fault, [14] = fault, [15] = millisecond,
    [16 + IRQ_TIMER] = half_step, [16 + IRQ_USB] = usb_interrupt,
    [16 + IRQ_PINS] = sensor, [16 + IRQ_UART0] = serial,
};

/* --- main loop ---------------------------------------------------------------------------------------- */

int main(void) {
    set_up_clocks();
    store_boot();
    set_up_pins();
    bool hung = WATCHDOG_REASON & 1u;
    REG(PSM_WDSEL) = 0x1fffc; /* a time out resets everything but the oscillators */
    port_watchdog();
    REG(WATCHDOG) = 1u << 30;
    set_up_interrupts();
    usb_boot();
    core_boot(hung);
    for (;;) {
        if (core_turn())
            continue;
        __asm volatile("cpsid i");
        if (!core_has_work())
            __asm volatile("wfi"); /* wakes with interrupts off, too */
        __asm volatile("cpsie i");
    }
}
