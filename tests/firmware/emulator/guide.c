/* TEST ONLY (GPL-3-or-later by libsimavr): the guide's step motor and its driver, which counts and times pulses.
 *
 * A step lasts no time: where it stands is the sum of the steps. Set-up is the time that the direction has stood when
 * the step pin rises.
 */
#include <stdlib.h>

#include "chip.h"

#define TRACE_ROOM 65536u /* entries by which the trace grows */

static void less(uint64_t *least, uint64_t value) {
    if (*least == 0 || value < *least) *least = value;
}

static void on_way(avr_irq_t *irq, uint32_t level, void *param) {
    struct chip *c = param;
    (void)irq;
    if ((int)level == c->guide.rightward) return;
    c->guide.rightward = (int)level;
    c->guide.way_at = chip_now(c);
}

static void on_step(avr_irq_t *irq, uint32_t level, void *param) {
    struct chip *c = param;
    struct guide *g = &c->guide;
    uint64_t now = chip_now(c);
    (void)irq;
    if ((int)level == g->high) return;
    g->high = (int)level;
    if (!level) {
        less(&g->high_least, now - g->rise_at);
        return;
    }
    if (g->made) less(&g->gap_least, now - g->rise_at);
    if (g->way_at) less(&g->set_up_least, now - g->way_at);
    g->rise_at = now;
    g->place += g->rightward ? 1 : -1;
    chip_note(c, 'S', (uint32_t)g->place);
    if (g->kept % TRACE_ROOM == 0)
        g->trace = realloc(g->trace, (g->kept + TRACE_ROOM) * sizeof *g->trace);
    g->trace[g->kept++] = (struct step_made){now, spindle_place_now(c), g->place};
    g->made++;
}

void guide_watch(struct chip *c) {
    avr_irq_register_notify(c->port_c[0], on_step, c);
    avr_irq_register_notify(c->port_c[1], on_way, c);
}

void guide_reset(struct chip *c) {
    c->guide.high = c->guide.rightward = 0;
    c->guide.way_at = 0;
}

int64_t guide_place(const struct chip *c) { return c->guide.place; }

uint64_t guide_figure(const struct chip *c, int what) {
    const struct guide *g = &c->guide;
    uint64_t figures[4] = {g->made, g->gap_least, g->high_least, g->set_up_least};
    return figures[what & 3];
}

/* The trace from its begin; returns how many steps it has, and forgets them if asked. */
uint64_t guide_trace(struct chip *c, struct step_made *to, uint64_t room, int forget) {
    uint64_t n = c->guide.kept < room ? c->guide.kept : room;
    for (uint64_t i = 0; i < n; i++) to[i] = c->guide.trace[i];
    n = c->guide.kept;
    if (forget) {
        free(c->guide.trace);
        c->guide.trace = NULL;
        c->guide.kept = 0;
    }
    return n;
}
