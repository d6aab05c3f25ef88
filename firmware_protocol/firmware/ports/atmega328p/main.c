/* A winding board on an ATmega328P: interrupts, pins and the main loop around the portable core.
 *
 * The sensor's interrupts read both pins and compare them with what they were: a disturbance that is gone by
 * then has changed nothing and counts nothing, and one that lasts longer counts one up and one down. With four
 * counts a period a jump over a state means that an edge was missed; it is told to the core, so that the
 * count is never wrong in silence.
 */
#include "core.h"
#include "guide.h"
#include "settings.h"

#include <avr/sleep.h>
#include <util/delay_basic.h>

volatile uint16_t port_clock_base;
uint16_t port_bounce_ticks, port_least_ticks;

static uint8_t sensor_before; /* levels at the newest interrupt; only touched in interrupts */
static uint8_t filter_loops;  /* of three cycles */
static uint8_t counted_pins;  /* those whose edges count */

/* A board that was never taught counts the edges of A and B and drives nothing. */
struct msg_welcome identity = {
    .board = "mega328",
    .groups = {1, 0, 0, 0, 0, 1},
    .has = HAS_DIRECTION_SENSE,
    .edge_rate_max_cps = 25000,
};
struct msg_settings settings;

/* --- before anything else ----------------------------------------------------------------------------- */

static uint8_t reset_cause __attribute__((section(".noinit")));

/* The watchdog's interrupt leaves these for the program that begins anew: a boot loader may clear the cause, and not
 * every one turns the watchdog off, so it is no reset that ends a hang but this. */
static uint16_t hang_mark __attribute__((section(".noinit"))), hang_check __attribute__((section(".noinit")));
#define HANG_MARK 0x5AC3u

/* Runs before variables are set up. The pins are inputs after a reset of any kind and a resistor keeps the
 * motor off, until the settings say which level is off. After a watchdog reset the watchdog goes on at 16 ms and must
 * be stopped at once. */
void first_things(void) __attribute__((naked, used, section(".init3")));
void first_things(void) {
    reset_cause = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

/* A program that hangs, or that shall boot anew: the motor off, a mark, and begin anew in software. What is set at a reset and not by
 * set_up() is set here. If even this interrupt does not come, the watchdog's second time out is a reset. */
ISR(WDT_vect) {
    port_cut();
    port_brake(0);
    EIMSK = TIMSK0 = TIMSK1 = TIMSK2 = UCSR0B = 0;
    TCCR1A = TCCR2B = 0;
    hang_mark = HOW & HOW_RESTARTS ? 0 : HANG_MARK;
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
}

/* Only now is it known which level is off: outputs become outputs, and each is off already. Without a driver none does. */
void port_take_settings(void) {
    port_bounce_ticks = settings.bounce_us / 4u;
    port_least_ticks = settings.least_period_us / 4u;
    if (port_least_ticks > 3)
        port_least_ticks -= 3; /* an interrupt may be 12 us late */
    filter_loops = (uint8_t)(settings.filter_us * 16u / 3u);
    HOW = settings.sensor == SENSOR_ONE_PULSE ? HOW_ONE_PULSE : 0;
    counted_pins = settings.sensor == SENSOR_FOUR_EDGES ? PIN_A | PIN_B : PIN_A;
    OFF_B = settings.low;
    if (settings.driver != DRIVER_NONE) {
        PORTB = OFF_B;
        DDRB = OUTPUTS_B;
    }
    /* Serial line: double speed, which divides best. 16 MHz divides 500000 baud exactly; 115200 is 2.1 % off. */
    UCSR0A = _BV(U2X0);
    UBRR0 = settings.line == LINE_SPEED_FAST ? 3 : 16;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXCIE0) | _BV(RXEN0) | _BV(TXEN0);
    /* Sensor: any change of A, and of B where its edges count; else B has no interrupt. */
    EICRA = _BV(ISC00) | _BV(ISC10);
    sensor_before = PIND & (PIN_A | PIN_B);
    EIFR = _BV(INTF0) | _BV(INTF1);
    EIMSK = counted_pins >> 2; /* INT0 and INT1 are two places lower than their pins */
}

/* The watchdog ends it: by then the answer has gone out. */
void port_restart(void) {
    HOW |= HOW_RESTARTS;
    for (;;) {
    }
}

/* --- interrupts --------------------------------------------------------------------------------------- */

/* One routine for both pins, so that the compiler lays everything open in it: no calls, few registers. */
ISR(INT0_vect) {
    uint8_t now = PIND & (PIN_A | PIN_B);
    uint8_t loops = filter_loops, counted = counted_pins;
    if (loops) {
        _delay_loop_1(loops);
        if ((uint8_t)(PIND ^ now) & counted)
            return; /* it did not last; what it came back to is what it was */
    }
    uint8_t changed = now ^ sensor_before;
    if (!(changed & counted))
        return;
    sensor_before = now;
    if ((HOW & HOW_ONE_PULSE) && !(now & PIN_A)) {
        edge_ended();
        return;
    }
    if (changed == (PIN_A | PIN_B) && counted == changed) {
        edge_missed();
        return;
    }
    bool backward = ((uint8_t)(now >> 1) ^ now) & PIN_A; /* B changed, to a level that is not that of A */
    if (changed & PIN_A)
        backward = !backward;
    edge_seen(backward);
}

ISR(INT1_vect, ISR_ALIASOF(INT0_vect));

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
