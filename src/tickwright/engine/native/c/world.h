/* What the files of the engine share: the world and its arrays. */

#ifndef TW_WORLD_H
#define TW_WORLD_H

#include "tw.h"
#include <setjmp.h>
#include <stdbool.h>
#include <stddef.h>

enum { TW_NORTH, TW_SOUTH, TW_EAST, TW_WEST, TW_UP, TW_DOWN, TW_NOWHERE };
enum { TW_EMPTY = -1 }; /* what `tw_at` gives for an empty cell; an arm is -2 - slot of its piston */
enum { TW_WHEEL = 256 };
enum { TW_MOST_SLOTS = 1 << 28 }; /* so many fit beside 4 bits of attenuation */
enum { TW_MOST_NOTES = 1024 };
#define TW_NEVER INT64_MAX

/* Bits of tw_live.flags. */
enum {
    TW_WAITING = 1,  /* an event of it is outstanding */
    TW_SHOWN = 2,    /* what a watched cell shows may hang on its level */
    TW_QUEUED = 4,   /* a piston whose move is queued */
    TW_DEAF = 8,     /* a torch burnt out */
    TW_POWERED = 16, /* an ejector that had power when last notified */
    TW_EAGER = 32,   /* a wire whose level is kept, since a sensor or piston may see it */
    TW_PROBED = 64,  /* a wire or block that is watched */
    TW_INERT = 128   /* on the move, or gone */
};

enum { TW_WORKED = 1, TW_LET_GO = 2 }; /* what an act was to a trigger in its cell */
/* Bits of tw_links.timing. */
enum tw_timing {
    TW_AHEAD = 1,      /* a repeater or comparator is before it, not head-on */
    TW_OVER = 2,       /* a comparator that reads a container: see tw_place.over */
    TW_DIFFERENCE = 4, /* a comparator of that mode */
    TW_TIMING = 3      /* how far the steps are shifted */
};

enum { TW_AT_REST, TW_OUT, TW_RETRACTING }; /* tw_place.posture of a piston */

typedef struct {
    int32_t x, y, z;
} tw_cell;

typedef struct {
    uint8_t level; /* what it gives or shows, 0..15 */
    uint8_t flags;
} tw_live;

/* How a slot is linked. An entry of `ins` is source << 4 | attenuation; one of `outs` is slot << 1 | 1 if it is
   notified of every change of level, or slot << 1 if only of on and off. */
typedef struct {
    uint32_t in;            /* ins[in ...]: the main port, then the flanks */
    uint32_t in_n, side_n;  /* how many of each */
    uint32_t out;           /* outs[out ...]: eager wires that hear it, then who is notified, in order */
    uint32_t wire_n, out_n; /* how many of each */
    uint32_t timing;        /* palette[code].steps << 3, and bits of enum tw_timing */
    uint16_t code;          /* palette[code] */
    uint8_t role, facing;
} tw_links;

typedef struct {
    uint64_t key; /* the order of being notified: `shuffled` first, then this */
    uint32_t shuffled;
    int32_t x, y, z;
    uint32_t in_room, out_room; /* how many entries fit where its lists lie */
    int32_t aux;                /* index into torches, stores or plates, by its role; or -1 */
    int32_t over;               /* comparator: the container that it reads, or -1 */
    uint8_t over_far, posture;
} tw_place;

typedef struct {
    uint32_t what;  /* slot << 3 | rank of its priority */
    uint32_t order; /* of scheduling, its low half */
} tw_event;

typedef struct {
    int64_t step;
    uint64_t order;
    uint32_t what; /* as tw_event has it */
} tw_late;

typedef struct {
    tw_event *e;
    uint32_t n, room;
    uint32_t ranks; /* bit r: there may be an event of rank r */
} tw_bucket;

typedef struct {
    uint8_t repeater_ahead, repeater_off, repeater_on, comparator_ahead, comparator_else, plain;
} tw_ranks;

typedef struct {
    uint32_t at, room; /* offs[at .. at + room): a ring */
    uint32_t n, head;  /* how many are kept; where the oldest is */
} tw_torch;

typedef struct {
    int64_t ready; /* hopper: when its cooldown is over */
    int64_t wake;  /* hopper: when it next takes its turn, TW_NEVER while it could do nothing */
    int32_t slot, count;
} tw_store;

typedef struct {
    int64_t since; /* when it last went on: it looks every so many steps from then */
    int64_t look;  /* when it next looks, TW_NEVER while what is in its cell has not changed */
    int32_t slot;
} tw_plate;

typedef struct {
    tw_cell cell;
    int32_t number; /* items in it; 0: gone */
    int64_t rests, vanishes;
    int32_t resting;
} tw_stack;

typedef struct {
    tw_cell cell;
    int32_t number;
} tw_creature;

typedef struct {
    int32_t piston;    /* slot */
    int32_t retracted; /* 1: the piston looks again when the move is over */
    int64_t step;      /* of its end */
    uint32_t first, n; /* goals[first .. first + n): the slots on the move, nearest the piston first */
    int32_t over;      /* 1: done before its time */
} tw_move;

typedef struct {
    tw_cell cell;
    int32_t of_part; /* 1: it shows whether a part stands there */
    int32_t value;
    tw_summary sum;
} tw_probe;

typedef struct {
    uint64_t cell; /* its place as one number: see grid.c */
    int32_t slot;
} tw_far;

/* Arrays, each with how many are used (name_n) and how many fit (name_room). SHAPE: what stands and how it is linked;
   only moves, breaks and building change it. STATE: what every change may touch. */
#define TW_SHAPE(X)                                                                                                    \
    X(tw_part, palette) /* palette[code] */                                                                            \
    X(int32_t, box)     /* box[((z - z0) * ny + y - y0) * nx + x - x0]: slot, TW_EMPTY or an arm */                    \
    X(tw_links, links)  /* links[slot] */                                                                              \
    X(tw_place, place)  /* place[slot] */                                                                              \
    X(uint32_t, ins)    /* see tw_links */                                                                             \
    X(uint32_t, outs)   /* see tw_links */                                                                             \
    X(int32_t, turn)    /* turn[i]: the store of the hopper that is i-th to take its turn */                           \
    X(tw_far, far)      /* far[hash]: cells outside the box; slot TW_UNUSED if there is none */                        \
    X(int32_t, pistons) /* pistons[i]: slot */                                                                         \
    X(tw_cell, ball)    /* ball[i]: offsets of cells within hears_within, the centre left out */
#define TW_STATE(X)                                                                                                    \
    X(tw_live, live)     /* live[slot] */                                                                              \
    X(tw_torch, torches) /* torches[aux] */                                                                            \
    X(int64_t, offs)     /* steps of switch-offs, see tw_torch */                                                      \
    X(tw_store, stores)  /* stores[aux] */                                                                             \
    X(tw_plate, plates)  /* plates[aux] */                                                                             \
    X(tw_stack, stacks)  /* in the order they were let go */                                                           \
    X(tw_creature, creatures)                                                                                          \
    X(tw_move, moves)   /* under way, in the order they started */                                                     \
    X(int32_t, goals)   /* see tw_move */                                                                              \
    X(int32_t, queue)   /* pistons whose move is queued, in order */                                                   \
    X(tw_late, late)    /* a heap by step and order: events beyond the wheel */                                        \
    X(tw_act, acts)     /* the script, from act_next on still to be done */                                            \
    X(tw_probe, probes) /* probes[i]: watched cell i */                                                                \
    X(tw_note, notes)                                                                                                  \
    X(tw_change, changes)
#define TW_SCRATCH(X)                                                                                                  \
    X(uint32_t, seen)   /* seen[slot] == mark: met in the search under way */                                          \
    X(uint32_t, chosen) /* chosen[slot] == choice: among those that an edit links anew */                              \
    X(uint32_t, front)  /* slots of wires, in the order met */                                                         \
    X(uint32_t, found)  /* the inputs being gathered, as in ins */                                                     \
    X(uint32_t, again)  /* slots that an edit links anew */                                                            \
    X(uint32_t, round)  /* slots to be notified */                                                                     \
    X(tw_cell, touched) /* cells in which something else stands now */                                                 \
    X(int32_t, laid)    /* slots that an edit laid down */                                                             \
    X(uint32_t, fill)   /* fill[slot]: a counter while links are made */

#define TW_DECLARE(type, name)                                                                                         \
    type *name;                                                                                                        \
    uint32_t name##_n, name##_room;

struct tw_world {
    TW_SHAPE(TW_DECLARE)
    TW_STATE(TW_DECLARE)
    TW_SCRATCH(TW_DECLARE)
    tw_bucket wheel[TW_WHEEL];    /* wheel[step % TW_WHEEL]: the events due then, in the order of scheduling */
    uint64_t busy[TW_WHEEL / 64]; /* bit step % TW_WHEEL: the bucket is not empty */
    tw_rules rules;
    tw_ranks ranks;
    tw_shuffle shuffle;
    int32_t order;
    int32_t x0, y0, z0, nx, ny, nz; /* the box */
    int32_t lowest;                 /* no part ever lay below this z */
    uint32_t far_used;
    uint32_t mark, choice;
    uint64_t shape; /* equal in two worlds only if their SHAPE arrays are equal */
    uint64_t scheduled;
    int64_t now, acted;
    int64_t hoppers_next, plates_next; /* no hopper or plate has anything to do before */
    int64_t looked;                    /* the last step in which the plates have looked */
    uint32_t act_next, queue_next, flights;
    bool dirty; /* what a watched cell shows may have changed in this step */
    bool turns_stale, started, built;
    int32_t keep;    /* enum tw_keep */
    jmp_buf trouble; /* where to go when memory is out */
};

static const int8_t TW_DX[7] = {0, 0, 1, -1, 0, 0, 0};
static const int8_t TW_DY[7] = {-1, 1, 0, 0, 0, 0, 0};
static const int8_t TW_DZ[7] = {0, 0, 0, 0, 1, -1, 0};

/* grid.c */
void *tw_grow(tw_world *w, void *p, uint32_t *room, uint64_t need, size_t size);
int32_t tw_far_at(const tw_world *w, int32_t x, int32_t y, int32_t z);
void tw_set(tw_world *w, tw_cell cell, int32_t value);
void tw_lay_box(tw_world *w, const int32_t *cells, int64_t n);
int32_t tw_slot(tw_world *w, tw_cell cell, uint16_t code);
void tw_key(tw_world *w, int32_t s);
void tw_clear(tw_world *w);
void tw_lay_all(tw_world *w, const int32_t *cells, int64_t n);

#define TW_RARE __attribute__((noinline, cold))
#define TW_QUICK static inline __attribute__((always_inline))

#define TW_ROOM(w, name, need)                                                                                         \
    do {                                                                                                               \
        if ((uint64_t)(need) > (w)->name##_room)                                                                       \
            (w)->name = tw_grow(w, (w)->name, &(w)->name##_room, (uint64_t)(need), sizeof *(w)->name);                 \
    } while (0)
#define TW_PUSH(w, name, ...)                                                                                          \
    do {                                                                                                               \
        TW_ROOM(w, name, (w)->name##_n + 1u);                                                                          \
        (w)->name[(w)->name##_n++] = (__VA_ARGS__);                                                                    \
    } while (0)

static inline int32_t tw_at(const tw_world *w, int32_t x, int32_t y, int32_t z) {
    uint32_t ux = (uint32_t)(x - w->x0), uy = (uint32_t)(y - w->y0), uz = (uint32_t)(z - w->z0);
    if (ux < (uint32_t)w->nx && uy < (uint32_t)w->ny && uz < (uint32_t)w->nz)
        return w->box[((size_t)uz * (uint32_t)w->ny + uy) * (uint32_t)w->nx + ux];
    return w->far_used ? tw_far_at(w, x, y, z) : TW_EMPTY;
}

/* What is in the six cells round a cell, by direction. */
static inline void tw_around(const tw_world *w, tw_cell c, int32_t n[6]) {
    uint32_t ux = (uint32_t)(c.x - w->x0 - 1), uy = (uint32_t)(c.y - w->y0 - 1), uz = (uint32_t)(c.z - w->z0 - 1);
    if (ux < (uint32_t)(w->nx - 2) && uy < (uint32_t)(w->ny - 2) && uz < (uint32_t)(w->nz - 2) && w->nx > 2) {
        ptrdiff_t row = w->nx, layer = row * w->ny;
        const int32_t *here = w->box + ((uz + 1u) * layer + (uy + 1u) * row + (ptrdiff_t)ux + 1);
        n[TW_NORTH] = here[-row], n[TW_SOUTH] = here[row];
        n[TW_EAST] = here[1], n[TW_WEST] = here[-1];
        n[TW_UP] = here[layer], n[TW_DOWN] = here[-layer];
        return;
    }
    for (int d = 0; d < 6; d++)
        n[d] = tw_at(w, c.x + TW_DX[d], c.y + TW_DY[d], c.z + TW_DZ[d]);
}

static inline int32_t tw_at_cell(const tw_world *w, tw_cell c) {
    return tw_at(w, c.x, c.y, c.z);
}

static inline tw_cell tw_beside(tw_cell c, int d) {
    return (tw_cell){c.x + TW_DX[d], c.y + TW_DY[d], c.z + TW_DZ[d]};
}

static inline tw_cell tw_cell_of(const tw_world *w, int32_t s) {
    return (tw_cell){w->place[s].x, w->place[s].y, w->place[s].z};
}

static inline const tw_part *tw_part_of(const tw_world *w, int32_t s) {
    return &w->palette[w->links[s].code];
}

/* Whether something stands there that takes part: neither empty, nor an arm, nor on the move. */
static inline bool tw_real(const tw_world *w, int32_t s) {
    return s >= 0 && !(w->live[s].flags & TW_INERT);
}

static inline bool tw_is(const tw_world *w, int32_t s, int role) {
    return s >= 0 && w->links[s].role == role && !(w->live[s].flags & TW_INERT);
}

static inline bool tw_conducts(const tw_world *w, int32_t s) {
    return tw_real(w, s) && tw_part_of(w, s)->conducts;
}

static inline bool tw_is_store(int role) {
    return role == TW_HOPPER || role == TW_EJECTOR || role == TW_CRATE;
}

/* The container in the cell, or -1. */
static inline int32_t tw_store_at(const tw_world *w, tw_cell cell) {
    int32_t s = tw_at_cell(w, cell);
    return tw_real(w, s) && tw_is_store(w->links[s].role) ? s : -1;
}

static inline bool tw_before(const tw_world *w, int32_t a, int32_t b) {
    const tw_place *p = &w->place[a], *q = &w->place[b];
    return p->shuffled != q->shuffled ? p->shuffled < q->shuffled : p->key < q->key;
}

static inline uint32_t tw_heard(const tw_world *w, const uint32_t *in, uint32_t n) {
    uint32_t most = 0;
    for (uint32_t i = 0; i < n; i++) {
        uint32_t level = w->live[in[i] >> 4].level, loss = in[i] & 15;
        if (level > loss && level - loss > most)
            most = level - loss;
    }
    return most;
}

/* Whether any of these inputs gives a level. */
static inline bool tw_any(const tw_world *w, const uint32_t *in, uint32_t n) {
    for (uint32_t i = 0; i < n; i++)
        if (w->live[in[i] >> 4].level > (in[i] & 15u))
            return true;
    return false;
}

static inline uint32_t tw_main(const tw_world *w, int32_t s) {
    return tw_heard(w, w->ins + w->links[s].in, w->links[s].in_n);
}

static inline uint32_t tw_sides(const tw_world *w, int32_t s) {
    return tw_heard(w, w->ins + w->links[s].in + w->links[s].in_n, w->links[s].side_n);
}

static inline void tw_set_level(tw_world *w, int32_t s, uint32_t level) {
    w->live[s].level = (uint8_t)level;
    w->dirty |= (w->live[s].flags & TW_SHOWN) != 0;
}

/* geometry.c */
bool tw_carries(const tw_world *w, int32_t s, int toward);
int tw_points(const tw_world *w, int32_t wire);
bool tw_supported(const tw_world *w, const tw_part *part, tw_cell cell);
tw_cell tw_support(const tw_part *part, tw_cell cell);
void tw_search(tw_world *w, int32_t s); /* fills found: the main port first; place.over, links.timing */

/* links.c */
bool tw_listens(const tw_world *w, int32_t s);
bool tw_may_change(const tw_world *w, int32_t s);
void tw_link_all(tw_world *w);
void tw_link(tw_world *w, int32_t s);
void tw_keep_level(tw_world *w, tw_cell cell);
void tw_attach(tw_world *w, int32_t s);
void tw_detach(tw_world *w, int32_t s);
void tw_sort_slots(tw_world *w, uint32_t *slots, uint32_t n);

/* edit.c */
void tw_touch(tw_world *w, tw_cell cell);
void tw_lift(tw_world *w, int32_t s);
void tw_lay(tw_world *w, int32_t s, tw_cell cell, bool inert);
void tw_end_edit(tw_world *w, bool seen);
void tw_new_shape(tw_world *w);
void tw_probe_all(tw_world *w);

/* events.c */
void tw_make_ranks(tw_world *w);
void tw_schedule(tw_world *w, int32_t s, int64_t delay); /* with priority 0 */
void tw_put_event(tw_world *w, int64_t step, uint32_t what, uint64_t order);
void tw_cancel(tw_world *w, int32_t s);
void tw_empty_bucket(tw_world *w, uint32_t at);
void tw_empty_wheel(tw_world *w);
int64_t tw_next_in_wheel(const tw_world *w, int64_t after);
void tw_reach(tw_world *w);
int64_t tw_next_event(const tw_world *w);

/* signals.c */
void tw_notify(tw_world *w, int32_t s);
void tw_changed(tw_world *w, int32_t s, bool flipped);
void tw_notify_round(tw_world *w, uint32_t base); /* each in round from there on, once and in order; takes them out */
void tw_notify_of(tw_world *w, int32_t a, int32_t b);
void tw_due_parts(tw_world *w);

/* items.c */
void tw_let_go(tw_world *w, tw_cell cell, int32_t number);
void tw_eject(tw_world *w, int32_t s);
void tw_hopper_wake(tw_world *w, int32_t s);
void tw_wake_round(tw_world *w, tw_cell cell);
void tw_items_phase(tw_world *w);
void tw_felt(tw_world *w, tw_cell cell);
void tw_left(tw_world *w, tw_cell cell);
void tw_recount(tw_world *w, int32_t s, int32_t count);
int64_t tw_next_items(const tw_world *w);
uint32_t tw_fill(const tw_world *w, int32_t s);
int32_t tw_creatures_at(const tw_world *w, tw_cell cell);
int32_t tw_take_stacks(tw_world *w, tw_cell cell);

/* pistons.c */
void tw_piston_look(tw_world *w, int32_t s);
void tw_moves_phase(tw_world *w);
void tw_landings(tw_world *w);
void tw_break_around(tw_world *w, tw_cell cell);
void tw_forget_piston(tw_world *w, int32_t s);

/* hand.c */
int tw_perform(tw_world *w, const tw_act *act);
void tw_note_add(tw_world *w, tw_note note);

/* run.c */
int32_t tw_value(const tw_world *w, const tw_probe *probe);
void tw_sample(tw_world *w);
void tw_one_step(tw_world *w, int64_t step);
void tw_insert_act(tw_world *w, const tw_act *act);
int64_t tw_next_step(const tw_world *w);
bool tw_good_part(const tw_part *p);
bool tw_good_rules(const tw_rules *r);
bool tw_good_act(const tw_world *w, const tw_act *act);
int32_t tw_good_cells(const int32_t *cells, int64_t n, int step, int64_t codes);
int32_t tw_build_checked(tw_world *w, const tw_rules *rules, const tw_part *palette, int64_t palette_n,
                         const int32_t *cells, int64_t cells_n, const int32_t *probes, int64_t probes_n, int32_t order,
                         tw_shuffle shuffle);

/* Enter a function that may run out of memory. */
#define TW_TRY(w)                                                                                                      \
    int status = setjmp((w)->trouble);                                                                                 \
    if (status)                                                                                                        \
    return status

#endif
