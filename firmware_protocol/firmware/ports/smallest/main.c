/* One sensor, one beeper: docs/protocol/counting.md on one chip.
 *
 * The interrupt comes at every change of the sensor and looks at it again a few microseconds later; a level that
 * did not last changes nothing. The beeper sounds when the count reaches the target that the host set.
 */
#include "board.h"
#include "core.h"

#include <avr/sleep.h>
#include <util/delay_basic.h>

#define BEEP_MS 600

struct msg_welcome identity = {
    .board = "counter",
    .groups = {1, 0, 0, 0, 0, 1},
    .edge_rate_max_cps = 100,
};

/* Until others are written: 100 counts a second at most, whose contacts may bounce for a sixth of a period. */
struct msg_settings settings = {.sensor = SENSOR_ONE_PULSE, .filter_us = 4, .bounce_us = 1600, .least_period_us = 4800};

volatile uint16_t port_clock_base;
static volatile uint16_t beep_ms;
static uint8_t sensor_before, filter_loops; /* of three cycles */
uint16_t port_bounce_ticks, port_least_ticks;

/* After a reset by the watchdog it runs on at 16 ms, so it is stopped before anything else. */
void first_things(void) __attribute__((naked, used, section(".init3")));
void first_things(void) {
    MCUSR = 0;
    wdt_disable();
}

ISR(INT0_vect) {
    uint8_t now = PIND & PIN_SENSOR;
    if (filter_loops)
        _delay_loop_1(filter_loops);
    if (now == sensor_before || (PIND & PIN_SENSOR) != now)
        return;
    sensor_before = now;
    if (now)
        edge_seen(false);
    else
        edge_ended();
}

/* A program that hangs begins anew without a reset, for not every boot loader turns the watchdog off. */
ISR(WDT_vect) {
    EIMSK = TIMSK0 = UCSR0B = 0;
    wdt_disable();
    __asm__ volatile("jmp 0");
    __builtin_unreachable();
}

ISR(TIMER0_COMPA_vect) {
    port_clock_base += PORT_CLOCK_A_MS;
    core_millisecond();
    if (beep_ms && --beep_ms == 0)
        PORTB &= (uint8_t)~PIN_BEEP;
}

ISR(USART_RX_vect) {
    uint8_t broken = UCSR0A & _BV(FE0);
    uint8_t byte = UDR0;
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

static void beep(void) {
    uint8_t before = port_lock();
    beep_ms = BEEP_MS;
    PORTB |= PIN_BEEP;
    port_unlock(before);
}

static void set_up(void) {
    DDRB = PIN_BEEP;
    PORTD = PIN_SENSOR;
    OCR0A = PORT_CLOCK_A_MS - 1; /* timer 0: a millisecond of 250 steps of 4 us */
    TCCR0A = _BV(WGM01);
    TCCR0B = _BV(CS01) | _BV(CS00);
    TIMSK0 = _BV(OCIE0A);
}

void port_take_settings(void) {
    port_bounce_ticks = settings.bounce_us / 4u;
    port_least_ticks = settings.least_period_us / 4u;
    if (port_least_ticks > 3)
        port_least_ticks -= 3; /* an interrupt may be 12 us late */
    filter_loops = (uint8_t)(settings.filter_us * 16u / 3u);
    UCSR0A = _BV(U2X0);
    UBRR0 = settings.line == LINE_SPEED_FAST ? 3 : 16; /* 16 MHz divides 500000 baud exactly; 115200 is 2.1 % off */
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXCIE0) | _BV(RXEN0) | _BV(TXEN0);
    EICRA = _BV(ISC00) | _BV(ISC10);
    sensor_before = PIND & PIN_SENSOR;
    EIFR = _BV(INTF0);
    EIMSK = _BV(INT0);
}

/* The watchdog begins anew; by then the answer has gone out. */
void port_restart(void) {
    for (;;) {
    }
}

int main(void) {
    set_up();
    sei();
    wdt_enable(WDTO_120MS);
    WDTCSR |= _BV(WDIE);
    core_boot(false); /* it drives nothing, so it makes no difference what began it */
    set_sleep_mode(SLEEP_MODE_IDLE);
    for (;;) {
        int32_t target = board.target;
        bool more = core_turn();
        if (target && !board.target && board.wind && board.facts.count >= target)
            beep();
        cli();
        if (!more && !core_has_work()) {
            sleep_enable();
            sei(); /* takes effect after the next instruction: no interrupt slips in between */
            sleep_cpu();
            sleep_disable();
        }
        sei();
    }
}
