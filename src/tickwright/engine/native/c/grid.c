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
    w->x0 = low[0], w->y0 = low[1], w->z0 = low[2];
    w->nx = high[0] - low[0] + 1, w->ny = high[1] - low[1] + 1, w->nz = high[2] - low[2] + 1;
    double volume = (double)w->nx * w->ny * w->nz;
    if (volume > 40.0 * (double)n + 100000.0 || volume > 2e9)
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

/* Work out the key of a slot, from its cell. */
void tw_key(tw_world *w, int32_t s) {
    tw_place *p = &w->place[s];
    uint64_t key = pack(p->x, p->y, p->z);
    p->key = w->order == 1 ? ~key : key;
    p->shuffled = w->order == 2 ? w->shuffle(p->x, p->y, p->z) : 0;
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

/* A new slot with that part, at rest, in that cell; not yet linked. */
int32_t tw_slot(tw_world *w, tw_cell cell, uint16_t code) {
    const tw_part *part = &w->palette[code];
    int32_t s = (int32_t)w->links_n;
    TW_PUSH(w, links, (tw_links){.code = code, .role = (uint8_t)part->role, .facing = (uint8_t)part->facing});
    uint8_t level = 0;
    if (part->role == TW_SOURCE || part->role == TW_TORCH || (part->role == TW_LEVER && part->mode))
        level = (uint8_t)w->rules.full;
    TW_PUSH(w, live, (tw_live){level, 0});
    TW_PUSH(w, place, (tw_place){.x = cell.x, .y = cell.y, .z = cell.z, .over = -1, .aux = -1});
    TW_PUSH(w, seen, 0);
    TW_PUSH(w, chosen, 0);
    TW_PUSH(w, fill, 0);
    w->place[s].aux = new_aux(w, s, part);
    if (part->role == TW_PISTON)
        TW_PUSH(w, pistons, s);
    tw_key(w, s);
    tw_set(w, cell, s);
    return s;
}

/* Forget everything but the memory. */
void tw_clear(tw_world *w) {
#define TW_ZERO(type, name) w->name##_n = 0;
    TW_SHAPE(TW_ZERO)
    TW_STATE(TW_ZERO)
    TW_SCRATCH(TW_ZERO)
#undef TW_ZERO
    for (uint32_t i = 0; i < TW_WHEEL; i++)
        w->wheel[i].n = 0;
    memset(w->busy, 0, sizeof w->busy);
    w->far_used = 0;
    w->mark = w->choice = 0;
    w->scheduled = 0;
    w->now = 0, w->acted = 0;
    w->hoppers_next = 0, w->plates_next = TW_NEVER, w->looked = -2;
    w->act_next = w->queue_next = w->flights = w->hopper_at = 0;
    w->in_hoppers = w->silent = w->dirty = w->turns_stale = w->started = w->built = false;
}

/* The offsets of cells within hears_within of a piston. */
void tw_make_ball(tw_world *w) {
    int32_t r = w->rules.hears_within;
    for (int32_t z = -r; z <= r; z++)
        for (int32_t y = -r; y <= r; y++)
            for (int32_t x = -r; x <= r; x++) {
                int32_t far = (x < 0 ? -x : x) + (y < 0 ? -y : y) + (z < 0 ? -z : z);
                if (far > 0 && far <= r)
                    TW_PUSH(w, ball, (tw_cell){x, y, z});
            }
}
