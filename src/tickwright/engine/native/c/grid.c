/* Where things stand: the box of cells, the few cells outside it, and the slots of parts. */

#include "world.h"
#include <stdlib.h>
#include <string.h>

enum { TW_UNUSED = INT32_MIN };

/* Memory for `need` entries, at least half as much again as there was. Leaves by w->trouble if there is none. */
void *tw_grow(tw_world *w, void *p, uint32_t *room, uint64_t need, size_t size) {
    uint64_t more = *room + *room / 2u + 8u;
    if (more < need)
        more = need;
    if (more > UINT32_MAX / 2u)
        longjmp(w->trouble, TW_NO_MEMORY);
    void *q = realloc(p, (size_t)more * size);
    if (!q)
        longjmp(w->trouble, TW_NO_MEMORY);
    *room = (uint32_t)more;
    return q;
}

static uint64_t pack(int32_t x, int32_t y, int32_t z) {
    const int64_t half = TW_FARTHEST + 1;
    return (uint64_t)(z + half) << 42 | (uint64_t)(y + half) << 21 | (uint64_t)(x + half);
}

static uint32_t far_place(const tw_world *w, uint64_t cell) {
    uint32_t mask = w->far_n - 1u;
    uint32_t i = (uint32_t)((cell * 0x9E3779B97F4A7C15u) >> 32) & mask;
    while (w->far[i].slot != TW_UNUSED && w->far[i].cell != cell)
        i = (i + 1u) & mask;
    return i;
}

int32_t tw_far_at(const tw_world *w, int32_t x, int32_t y, int32_t z) {
    const tw_far *f = &w->far[far_place(w, pack(x, y, z))];
    return f->slot == TW_UNUSED ? TW_EMPTY : f->slot;
}

static void far_size(tw_world *w, uint32_t n) {
    TW_ROOM(w, far, n);
    w->far_n = n;
    for (uint32_t i = 0; i < n; i++)
        w->far[i].slot = TW_UNUSED;
}

static void far_set(tw_world *w, tw_cell c, int32_t value) {
    if (2u * (w->far_used + 1u) > w->far_n) {
        uint32_t n = w->far_n, kept = 0;
        tw_far *old = n ? malloc(n * sizeof *old) : NULL;
        if (n && !old)
            longjmp(w->trouble, TW_NO_MEMORY);
        for (uint32_t i = 0; i < n; i++)
            if (w->far[i].slot != TW_UNUSED && w->far[i].slot != TW_EMPTY)
                old[kept++] = w->far[i];
        uint32_t size = 64;
        while (size < 4u * (kept + 1u))
            size *= 2u;
        far_size(w, size);
        for (uint32_t i = 0; i < kept; i++)
            w->far[far_place(w, old[i].cell)] = old[i];
        w->far_used = kept;
        free(old);
    }
    uint64_t cell = pack(c.x, c.y, c.z);
    tw_far *f = &w->far[far_place(w, cell)];
    w->far_used += f->slot == TW_UNUSED;
    *f = (tw_far){cell, value};
}

/* Put a slot, an arm or TW_EMPTY into a cell. */
void tw_set(tw_world *w, tw_cell c, int32_t value) {
    uint32_t ux = (uint32_t)(c.x - w->x0), uy = (uint32_t)(c.y - w->y0), uz = (uint32_t)(c.z - w->z0);
    if (c.z < w->lowest)
        w->lowest = c.z;
    if (ux < (uint32_t)w->nx && uy < (uint32_t)w->ny && uz < (uint32_t)w->nz)
        w->box[((size_t)uz * (uint32_t)w->ny + uy) * (uint32_t)w->nx + ux] = value;
    else
        far_set(w, c, value);
}

/* A box round all cells (x, y, z and one more number each); none if it would be far larger than what is in it. */
void tw_lay_box(tw_world *w, const int32_t *cells, int64_t n) {
    int32_t low[3] = {0, 0, 0}, high[3] = {-1, -1, -1};
    for (int64_t i = 0; i < n; i++) {
        for (int a = 0; a < 3; a++) {
            int32_t v = cells[4 * i + a];
            if (i == 0 || v < low[a])
                low[a] = v;
            if (i == 0 || v > high[a])
                high[a] = v;
        }
    }
    w->x0 = low[0] - 1, w->y0 = low[1] - 1, w->z0 = low[2] - 1; /* a cell more on each side: see tw_around */
    w->nx = high[0] - low[0] + 3, w->ny = high[1] - low[1] + 3, w->nz = high[2] - low[2] + 3;
    double volume = (double)w->nx * w->ny * w->nz;
    if (volume > 40.0 * (double)n + 20000.0 || volume > 2e9)
        w->nx = w->ny = w->nz = 0;
    size_t size = (size_t)w->nx * (size_t)w->ny * (size_t)w->nz;
    TW_ROOM(w, box, size);
    w->box_n = (uint32_t)size;
    if (size)
        memset(w->box, 0xff, size * sizeof *w->box); /* TW_EMPTY everywhere */
    w->far_n = w->far_used = 0;
    if (!size && n) {
        uint32_t room = 64;
        while (room < 4u * (uint64_t)n)
            room *= 2u;
        far_size(w, room);
    }
    w->lowest = low[2];
}

static uint64_t key_of(const tw_world *w, tw_cell c) {
    uint64_t key = pack(c.x, c.y, c.z);
    return w->order == 1 ? ~key : key;
}

/* This may call back, which takes its time. */
static uint32_t shuffled_of(const tw_world *w, tw_cell c) {
    return w->order == 2 ? w->shuffle(c.x, c.y, c.z) : 0;
}

/* Work out the key of a slot, from its cell. */
void tw_key(tw_world *w, int32_t s) {
    tw_cell c = tw_cell_of(w, s);
    w->place[s].key = key_of(w, c);
    w->place[s].shuffled = shuffled_of(w, c);
}

static int32_t new_aux(tw_world *w, int32_t s, const tw_part *part) {
    if (part->role == TW_TORCH) {
        TW_PUSH(w, torches, (tw_torch){0, 0, 0, 0});
        return (int32_t)w->torches_n - 1;
    }
    if (part->role == TW_PLATE) {
        TW_PUSH(w, plates, (tw_plate){0, TW_NEVER, s});
        return (int32_t)w->plates_n - 1;
    }
    if (tw_is_store(part->role)) {
        TW_PUSH(w, stores, (tw_store){w->now, part->role == TW_HOPPER ? w->now : TW_NEVER, s, part->items});
        w->turns_stale |= part->role == TW_HOPPER;
        return (int32_t)w->stores_n - 1;
    }
    return -1;
}

static void make_ball(tw_world *w);

static uint32_t timing_of(const tw_part *part) {
    bool difference = part->role == TW_COMPARATOR && part->mode;
    return (uint32_t)part->steps << TW_TIMING | (difference ? TW_DIFFERENCE : 0u);
}

/* Fill in a slot, for which there is room, with that part, at rest, in that cell; it is not yet linked. */
static void fill_slot(tw_world *w, int32_t s, tw_cell cell, uint16_t code, uint32_t shuffled) {
    const tw_part *part = &w->palette[code];
    uint8_t level = 0;
    if (part->role == TW_SOURCE || part->role == TW_TORCH || (part->role == TW_LEVER && part->mode))
        level = (uint8_t)w->rules.full;
    w->links[s] = (tw_links){
        .timing = timing_of(part), .code = code, .role = (uint8_t)part->role, .facing = (uint8_t)part->facing};
    w->live[s] = (tw_live){level, 0};
    w->place[s] = (tw_place){
        .key = key_of(w, cell), .shuffled = shuffled, .x = cell.x, .y = cell.y, .z = cell.z, .over = -1, .aux = -1};
    w->seen[s] = w->chosen[s] = w->fill[s] = 0;
    if (part->role == TW_TORCH || part->role == TW_PLATE || tw_is_store(part->role))
        w->place[s].aux = new_aux(w, s, part);
    if (part->role == TW_PISTON) {
        TW_PUSH(w, pistons, s);
        if (!w->ball_n)
            make_ball(w);
    }
}

static void slot_room(tw_world *w, uint64_t n) {
    if (n > TW_MOST_SLOTS)
        longjmp(w->trouble, TW_NO_MEMORY);
    TW_ROOM(w, links, n);
    TW_ROOM(w, live, n);
    TW_ROOM(w, place, n);
    TW_ROOM(w, seen, n);
    TW_ROOM(w, chosen, n);
    TW_ROOM(w, fill, n);
}

static void count_slots(tw_world *w, uint32_t n) {
    w->links_n = w->live_n = w->place_n = w->seen_n = w->chosen_n = w->fill_n = n;
}

/* A new slot with that part, at rest, in that cell; not yet linked. */
int32_t tw_slot(tw_world *w, tw_cell cell, uint16_t code) {
    int32_t s = (int32_t)w->links_n;
    slot_room(w, w->links_n + (uint64_t)1);
    count_slots(w, w->links_n + 1u);
    fill_slot(w, s, cell, code, shuffled_of(w, cell));
    tw_set(w, cell, s);
    return s;
}

/* --- all parts at once, in the order of being notified ---------------------------------------------------------------
 */

typedef struct {
    uint64_t key;
    uint32_t shuffled, at; /* cells[4 * at ...] */
} tw_laid;

static int compare_laid(const void *a, const void *b) {
    const tw_laid *p = a, *q = b;
    if (p->shuffled != q->shuffled)
        return p->shuffled < q->shuffled ? -1 : 1;
    return p->key < q->key ? -1 : p->key > q->key;
}

/* The n entries of `sorting` in order; false if two are of one cell. */
static bool sort_cells(tw_world *w, tw_laid *sorting, const int32_t *cells, uint32_t n) {
    for (uint32_t i = 0; i < n; i++) {
        const int32_t *c = cells + (size_t)4 * i;
        tw_cell cell = {c[0], c[1], c[2]};
        sorting[i] = (tw_laid){key_of(w, cell), shuffled_of(w, cell), i};
    }
    qsort(sorting, n, sizeof *sorting, compare_laid);
    for (uint32_t i = 1; i < n; i++)
        if (sorting[i].key == sorting[i - 1u].key)
            return false;
    return true;
}

static void lay_sorted(tw_world *w, const int32_t *cells, uint32_t n) {
    tw_laid *sorting = malloc((n + (size_t)1) * sizeof *sorting);
    if (!sorting)
        longjmp(w->trouble, TW_NO_MEMORY);
    bool good = sort_cells(w, sorting, cells, n);
    for (uint32_t i = 0; good && i < n; i++) {
        w->found[i] = sorting[i].at;
        w->front[i] = sorting[i].shuffled;
    }
    free(sorting);
    if (!good)
        longjmp(w->trouble, TW_BAD_CELL);
    for (uint32_t s = 0; s < n; s++) {
        const int32_t *c = cells + (size_t)4 * w->found[s];
        tw_cell cell = {c[0], c[1], c[2]};
        fill_slot(w, (int32_t)s, cell, (uint16_t)c[3], w->front[s]);
        tw_set(w, cell, (int32_t)s);
    }
}

/* With a box that order can be read off it. */
static void lay_in_box(tw_world *w, const int32_t *cells, uint32_t n) {
    for (uint32_t i = 0; i < n; i++) {
        const int32_t *c = cells + (size_t)4 * i;
        size_t x = (size_t)(c[0] - w->x0), y = (size_t)(c[1] - w->y0), z = (size_t)(c[2] - w->z0);
        int32_t *there = &w->box[(z * (size_t)w->ny + y) * (size_t)w->nx + x];
        if (*there != TW_EMPTY)
            longjmp(w->trouble, TW_BAD_CELL);
        *there = (int32_t)i;
    }
    uint32_t next = 0;
    uint32_t rim = (uint32_t)w->nx * (uint32_t)w->ny; /* the lowest and the highest layer are empty */
    for (uint32_t i = rim; next < n && i < w->box_n; i++) {
        int32_t *there = &w->box[w->order == 1 ? w->box_n - 1u - i : i];
        if (*there == TW_EMPTY)
            continue;
        const int32_t *c = cells + (size_t)4 * (uint32_t)*there;
        fill_slot(w, (int32_t)next, (tw_cell){c[0], c[1], c[2]}, (uint16_t)c[3], 0);
        *there = (int32_t)next++;
    }
}

/* Lay all parts (x, y, z and the code of each): their slots are in the order of being notified. */
void tw_lay_all(tw_world *w, const int32_t *cells, int64_t n) {
    slot_room(w, (uint64_t)n);
    count_slots(w, (uint32_t)n);
    TW_ROOM(w, found, n);
    TW_ROOM(w, front, n);
    if (w->box_n && w->order != 2)
        lay_in_box(w, cells, (uint32_t)n);
    else
        lay_sorted(w, cells, (uint32_t)n);
}

/* Forget everything but the memory. */
void tw_clear(tw_world *w) {
#define TW_ZERO(type, name) w->name##_n = 0;
    TW_SHAPE(TW_ZERO)
    TW_STATE(TW_ZERO)
    TW_SCRATCH(TW_ZERO)
#undef TW_ZERO
    tw_empty_wheel(w);
    w->far_used = 0;
    w->mark = w->choice = 0;
    w->scheduled = 0;
    w->now = 0, w->acted = 0;
    w->hoppers_next = 0, w->plates_next = TW_NEVER, w->looked = -2;
    w->act_next = w->queue_next = w->flights = 0;
    w->dirty = w->turns_stale = w->started = w->built = false;
}

/* The offsets of cells within hears_within of a piston. */
static void make_ball(tw_world *w) {
    int32_t r = w->rules.hears_within;
    for (int32_t z = -r; z <= r; z++)
        for (int32_t y = -r; y <= r; y++)
            for (int32_t x = -r; x <= r; x++) {
                int32_t far = (x < 0 ? -x : x) + (y < 0 ? -y : y) + (z < 0 ? -z : z);
                if (far > 0 && far <= r)
                    TW_PUSH(w, ball, (tw_cell){x, y, z});
            }
}
