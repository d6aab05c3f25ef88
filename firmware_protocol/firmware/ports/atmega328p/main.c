/* A winding board on an ATmega328P: interrupts, pins and the main loop around the portable core.
 *
 * The sensor's interrupts read both pins and compare them with what they were: a disturbance that is gone by
 * then has changed nothing and counts nothing, and one that lasts longer counts one up and one down. With four
 * counts a period a jump over a state means that an edge was missed; it is told to the core, so that the
 * count is never wrong in silence.
 */
#include "core.h"
#include "guide.h"
#include "motion.h"

#include <avr/sleep.h>
#include <util/delay_basic.h>

volatile uint16_t port_clock_base;

static uint8_t sensor_before; /* levels at the newest interrupt; only touched in interrupts */

const struct identity identity = {
    .board = "mega328",
    .groups = {1, 1, SETTING_STEPS_PER_M ? 1 : 0, 1, 0, 0},
    .has = (PORT_DIRECTION_SENSE ? HAS_DIRECTION_SENSE : 0) | (SETTING_BRAKE_PERMILLE ? HAS_BRAKE : 0)
           | (SETTING_GUARD ? HAS_GUARD : 0) | (SETTING_WIRE_SENSOR ? HAS_WIRE_SENSOR : 0),
    .legs_max = CORE_LEGS_MAX,
    .rate_max_mcps = SETTING_RATE_MAX_MCPS,
    .edge_rate_max_cps = SETTING_EDGE_RATE_MAX_CPS,
    /* Sensor, filter and the two times of one channel are all that bears on counting; each build has its own number. */
    .settings_hash = (0x4D330000UL | (uint32_t)SETTING_SENSOR << 12 | (SETTING_FILTER_US & 0xFFF)) ^
                     (SETTING_BOUNCE_US * 65537UL + SETTING_LEAST_PERIOD_US * 31UL),
    .cut_ms = SETTING_CUT_MS,
    .rest_ms = SETTING_REST_MS,
};

const struct motor motor = {
    .full_rate_mcps = SETTING_FULL_RATE_MCPS,
    .full_accel_mcps2 = SETTING_FULL_ACCEL_MCPS2,
    .friction_permille = SETTING_FRICTION_PERMILLE,
    .brake_permille = SETTING_BRAKE_PERMILLE,
};

#if SETTING_STEPS_PER_M
const struct traverse traverse = TRAVERSE_OF(SETTING_STEPS_PER_M, SETTING_TRAVEL_UM, SETTING_STEPS_PER_S_MAX);
_Static_assert(SETTING_STEPS_PER_M >= 1000 && SETTING_TRAVEL_UM * (SETTING_STEPS_PER_M / 1000) / 1000 < 16000000,
               "a step is a millimetre at most, and the travel fits the guide's numbers");
#else
const struct traverse traverse = {0};
#endif

_Static_assert(SETTING_STEPS_PER_S_MAX >= 1000 && SETTING_STEPS_PER_S_MAX <= 20000, "whole steps a millisecond");

_Static_assert(SETTING_RATE_MAX_MCPS / 1000 <= SETTING_EDGE_RATE_MAX_CPS, "drives no faster than it counts");

_Static_assert(SETTING_RATE_MAX_MCPS / 1000 * SETTING_BOUNCE_US <= 500000, "a bounce takes half a period at most");

_Static_assert(SETTING_BOUNCE_US <= 100000 && SETTING_LEAST_PERIOD_US <= 100000,
               "times that the clock of the edges can tell");

_Static_assert(SETTING_CUT_MS > 0 && SETTING_CUT_MS < SETTING_REST_MS && SETTING_REST_MS <= 65535, "cut, then rest");

_Static_assert(SETTING_FILTER_US <= 40, "the filter's wait fits the receiver's buffer");

/* --- before anything else ----------------------------------------------------------------------------- */

static uint8_t reset_cause __attribute__((section(".noinit")));

/* The watchdog's interrupt leaves these for the program that begins anew: a boot loader may clear the cause, and not
 * every one turns the watchdog off, so it is no reset that ends a hang but this. */
static uint16_t hang_mark __attribute__((section(".noinit"))), hang_check __attribute__((section(".noinit")));
#define HANG_MARK 0x5AC3u

/* Runs before variables are set up. The pins are inputs after a reset of any kind and a resistor keeps the
 * motor off; here the outputs of port B become outputs, each off. After a watchdog reset the watchdog
 * goes on at 16 ms and must be stopped at once. Motor first. */
void first_things(void) __attribute__((naked, used, section(".init3")));
void first_things(void) {
    PORTB = OFF_B;
    DDRB = OUTPUTS_B;
    reset_cause = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

/* A program that hangs: the motor off, a mark, and begin anew in software. What is set at a reset and not by
 * set_up() is set here. If even this interrupt does not come, the watchdog's second time out is a reset. */
ISR(WDT_vect) {
    port_cut();
    port_brake(0);
    EIMSK = TIMSK0 = TIMSK1 = TIMSK2 = UCSR0B = 0;
    TCCR1A = TCCR2B = 0;
    hang_mark = HANG_MARK;
    hang_check = (uint16_t)~HANG_MARK;
    wdt_disable();
    __asm__ volatile("jmp 0");
    __builtin_unreachable();
}

/* Whether the program before this one hung. */
static bool hung(void) {
    bool marked = hang_mark == HANG_MARK && hang_check == (uint16_t)~HANG_MARK;
    hang_mark = 0;
    return marked || (reset_cause & _BV(WDRF));
}

/* Interrupt first, then reset. */
static void watch(void) {
    wdt_enable(WDTO_120MS);
    WDTCSR |= _BV(WDIE);
}

static void set_up(void) {
    DDRC = PIN_STEP | PIN_STEP_RIGHT;
    PORTC = PIN_GUARD | PIN_WIRE;
    PORTD = PIN_A | PIN_B;
    /* Timer 1: fast PWM up to ICR1; pins are connected by port_drive and port_brake. */
    ICR1 = DUTY_TOP;
    TCCR1A = _BV(WGM11);
    TCCR1B = _BV(WGM13) | _BV(WGM12) | _BV(CS10);
    /* Timer 0: a millisecond of 250 steps of 4 us. */
    OCR0A = PORT_CLOCK_A_MS - 1;
    TCCR0A = _BV(WGM01);
    TCCR0B = _BV(CS01) | _BV(CS00);
    TIMSK0 = _BV(OCIE0A);
    TCCR2A = _BV(WGM21); /* timer 2: the guide's half steps; port_steps() lets it run */
    /* Serial line: double speed, which divides best. */
    UCSR0A = _BV(U2X0);
    UBRR0 = (uint16_t)((F_CPU + 4UL * SETTING_BAUD) / (8UL * SETTING_BAUD) - 1);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXCIE0) | _BV(RXEN0) | _BV(TXEN0);
    /* Sensor: any change of A, and of B where its edges count; else B has no interrupt. */
    EICRA = _BV(ISC00) | _BV(ISC10);
    sensor_before = PIND & (PIN_A | PIN_B);
    EIFR = _BV(INTF0) | _BV(INTF1);
    EIMSK = SETTING_SENSOR == 4 ? _BV(INT0) | _BV(INT1) : _BV(INT0);
}

/* --- interrupts --------------------------------------------------------------------------------------- */

/* One routine for both pins, so that the compiler lays everything open in it: no calls, few registers. */
ISR(INT0_vect) {
    uint8_t now = PIND & (PIN_A | PIN_B);
#if SETTING_FILTER_US > 0
    _delay_loop_1(SETTING_FILTER_US * 16 / 3);
    if ((PIND ^ now) & (SETTING_SENSOR == 4 ? PIN_A | PIN_B : PIN_A))
        return; /* it did not last; what it came back to is what it was */
#endif
    uint8_t changed = now ^ sensor_before;
#if SETTING_SENSOR == 1
    if (!(changed & PIN_A))
        return;
    sensor_before = now;
    if (now & PIN_A)
        edge_seen(false);
    else
        edge_ended();
#else
    bool differ = ((now >> 1) ^ now) & PIN_A; /* A and B have different levels */
#if SETTING_SENSOR == 2
    if (!(changed & PIN_A))
        return;
    sensor_before = now;
    edge_seen(!differ);
#else
    if (changed == 0)
        return;
    sensor_before = now;
    if (changed == (PIN_A | PIN_B)) {
        edge_missed();
        return;
    }
    edge_seen((changed & PIN_A) ? !differ : differ);
#endif
#endif
}

#if SETTING_SENSOR == 4
ISR(INT1_vect, ISR_ALIASOF(INT0_vect));
#endif

ISR(TIMER0_COMPA_vect) {
    port_clock_base += PORT_CLOCK_A_MS;
    core_millisecond();
}

/* Edges go before steps: all but this very interrupt may come in between. */
ISR(TIMER2_COMPA_vect) {
    TIMSK2 = 0;
    sei();
    bool more = guide_pulse();
    cli();
    if (more)
        TIMSK2 = _BV(OCIE2A);
    else
        TCCR2B = 0;
}

ISR(USART_RX_vect) {
    uint8_t broken = UCSR0A & _BV(FE0); /* belongs to the byte, so it is read first */
    uint8_t byte = UDR0;
    /* A byte with a framing error is no byte. Without it, or one that overran, the frame's CRC fails. */
    if (!broken)
        link_received(byte);
}

ISR(USART_UDRE_vect) {
    uint8_t byte;
    if (link_next(&byte))
        UDR0 = byte;
    else
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
}

/* --- main loop ---------------------------------------------------------------------------------------- */

int main(void) {
    set_up();
    sei();
    watch();
    core_boot(hung());
    set_sleep_mode(SLEEP_MODE_IDLE);
    for (;;) {
        if (core_turn())
            continue;
        cli();
        if (!core_has_work()) {
            sleep_enable();
            sei(); /* takes effect after the next instruction: no interrupt slips in between */
            sleep_cpu();
            sleep_disable();
        }
        sei();
    }
}
