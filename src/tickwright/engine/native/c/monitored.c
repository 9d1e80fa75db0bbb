/* A graph of states and a monitor, walked together, breadth-first: couples of a state of the circuit and a state of the
   monitor. The monitor is a table that the caller fills as it is asked: which state follows for it, by the one it is
   in, what the hand did and what is shown then. States that show the same have one *face*. */

#include "world.h"
#include <stdlib.h>
#include <string.h>

typedef struct {
    int32_t state, watcher;
    int32_t parent, move; /* how it was reached first; -1 at the start */
} tw_couple;

typedef struct {
    int32_t watcher, move, face, next;
} tw_told;

/* What is known by hash: numbers of rows that are kept elsewhere. */
typedef struct {
    tw_world *w;
    tw_spot *table;
    uint32_t table_n, table_room;
} tw_hashed;

#define TW_MONITORED_ARRAYS(X)                                                                                         \
    X(tw_couple, couples)                                                                                              \
    X(tw_told, told)    /* what the caller said */                                                                     \
    X(int32_t, faces)   /* faces[face]: the first state that has it */                                                 \
    X(int32_t, face_of) /* face_of[state], as far as they were looked at */

struct tw_monitored {
    TW_MONITORED_ARRAYS(TW_DECLARE)
    tw_world *w; /* of the graph: where to go when memory is out */
    tw_graph *g;
    tw_hashed coupled, answers, shown;
    int64_t expanded;
    uint32_t move; /* of the couple being expanded: the next to follow */
};

void tw_monitored_free(tw_monitored *m) {
    if (!m)
        return;
#define TW_FREE_MONITORED(type, name) free(m->name);
    TW_MONITORED_ARRAYS(TW_FREE_MONITORED)
    free(m->coupled.table), free(m->answers.table), free(m->shown.table);
    free(m);
}

/* The face of a state. */
static int32_t face_of(tw_monitored *m, uint32_t state) {
    uint32_t n = m->g->probes_n;
    for (; m->face_of_n <= state;) {
        const int32_t *row = m->g->shown + (size_t)m->face_of_n * n;
        tw_hashed *h = &m->shown;
        TW_TABLE_ROOM(h, m->faces_n);
        uint32_t hash = (uint32_t)hash_of((const uint32_t *)row, n), mask = h->table_n - 1u, i = hash & mask;
        while (h->table[i].number >= 0 &&
               memcmp(m->g->shown + (size_t)m->faces[h->table[i].number] * n, row, n * sizeof *row) != 0)
            i = (i + 1u) & mask;
        if (h->table[i].number < 0) {
            TW_APPEND(m, faces, (int32_t)m->face_of_n);
            h->table[i] = (tw_spot){hash, (int32_t)m->faces_n - 1};
        }
        TW_APPEND(m, face_of, h->table[i].number);
    }
    return m->face_of[state];
}

/* Where an answer is in the table, or would be. */
static tw_spot *answer_spot(tw_monitored *m, const int32_t key[3], uint32_t *hash) {
    tw_hashed *h = &m->answers;
    TW_TABLE_ROOM(h, m->told_n);
    *hash = (uint32_t)hash_of((const uint32_t *)key, 3);
    uint32_t mask = h->table_n - 1u, i = *hash & mask;
    for (; h->table[i].number >= 0; i = (i + 1u) & mask) {
        const tw_told *one = &m->told[h->table[i].number];
        if (one->watcher == key[0] && one->move == key[1] && one->face == key[2])
            break;
    }
    return &h->table[i];
}

static void reach_couple(tw_monitored *m, tw_couple one) {
    tw_hashed *h = &m->coupled;
    TW_TABLE_ROOM(h, m->couples_n);
    const uint32_t key[2] = {(uint32_t)one.state, (uint32_t)one.watcher};
    uint32_t hash = (uint32_t)hash_of(key, 2), mask = h->table_n - 1u, i = hash & mask;
    for (; h->table[i].number >= 0; i = (i + 1u) & mask) {
        const tw_couple *known = &m->couples[h->table[i].number];
        if (known->state == one.state && known->watcher == one.watcher)
            return;
    }
    TW_APPEND(m, couples, one);
    h->table[i] = (tw_spot){hash, (int32_t)m->couples_n - 1};
}

/* Follow the moves of the couple being expanded: TW_DONE, or why it stopped, `at` saying where. */
static int32_t expand_couple(tw_monitored *m, int32_t at[3]) {
    tw_graph *g = m->g;
    tw_couple from = m->couples[m->expanded];
    size_t row = (size_t)from.state * g->moves;
    if (g->after[row] < 0)
        explore(g, (uint32_t)from.state);
    for (; m->move < g->moves; m->move++) {
        int32_t next = g->after[row + m->move];
        if (next < 0)
            continue;
        const int32_t key[3] = {from.watcher, (int32_t)m->move - 1, face_of(m, (uint32_t)next)};
        uint32_t hash;
        const tw_spot *spot = answer_spot(m, key, &hash);
        if (spot->number < 0) {
            memcpy(at, key, sizeof key);
            return TW_WALK_ASKS;
        }
        int32_t watcher = m->told[spot->number].next;
        if (watcher == TW_IS_WRONG) {
            at[0] = (int32_t)m->expanded, at[1] = key[1], at[2] = key[2];
            return TW_WALK_FAULT;
        }
        if (watcher >= 0)
            reach_couple(m, (tw_couple){next, watcher, (int32_t)m->expanded, key[1]});
    }
    m->move = 0;
    m->expanded++;
    return TW_DONE;
}

int32_t tw_monitored_walk(tw_monitored *m, int64_t most, int64_t limit, int32_t at[3]) {
    if (!m || most < 1 || limit < 0 || !at)
        return TW_BAD_SIZE;
    TW_TRY(m->w);
    for (int64_t end = m->expanded + (most < limit ? most : limit); m->expanded < end;) {
        if (m->expanded >= m->couples_n)
            return TW_WALKED_ALL;
        if (m->expanded >= limit)
            return TW_WALK_LIMIT;
        int32_t walked = expand_couple(m, at);
        if (walked != TW_DONE)
            return walked;
    }
    return TW_MORE;
}

int32_t tw_monitored_tell(tw_monitored *m, int32_t watcher, int32_t move, int32_t face, int32_t next) {
    if (!m || watcher < 0 || move < -1 || face < 0 || face >= (int64_t)m->faces_n || next < TW_IS_WRONG)
        return TW_BAD_SIZE;
    TW_TRY(m->w);
    const int32_t key[3] = {watcher, move, face};
    uint32_t hash;
    tw_spot *spot = answer_spot(m, key, &hash);
    if (spot->number >= 0)
        return TW_BAD_SIZE;
    TW_APPEND(m, told, (tw_told){watcher, move, face, next});
    *spot = (tw_spot){hash, (int32_t)m->told_n - 1};
    return TW_DONE;
}

static int32_t start_monitored(tw_monitored *m) {
    TW_TRY(m->w);
    reach_couple(m, (tw_couple){0, 0, -1, -1});
    return TW_DONE;
}

tw_monitored *tw_monitored_new(tw_graph *g, int32_t *status) {
    if (!status)
        return NULL;
    *status = TW_BAD_SIZE;
    if (!g)
        return NULL;
    *status = TW_NO_MEMORY;
    tw_monitored *m = calloc(1, sizeof *m);
    if (!m)
        return NULL;
    m->g = g, m->w = m->coupled.w = m->answers.w = m->shown.w = g->w;
    *status = start_monitored(m);
    if (*status == TW_DONE)
        return m;
    tw_monitored_free(m);
    return NULL;
}

int64_t tw_monitored_couples(const tw_monitored *m) {
    return m ? (int64_t)m->couples_n : TW_BAD_SIZE;
}

int64_t tw_monitored_expanded(const tw_monitored *m) {
    return m ? m->expanded : TW_BAD_SIZE;
}

int32_t tw_monitored_face(const tw_monitored *m, int32_t face, int32_t *levels, int64_t levels_n) {
    if (!m || face < 0 || face >= (int64_t)m->faces_n || levels_n != m->g->probes_n || (levels_n && !levels))
        return TW_BAD_SIZE;
    if (levels_n)
        memcpy(levels, m->g->shown + (size_t)m->faces[face] * m->g->probes_n, (size_t)levels_n * sizeof *levels);
    return TW_DONE;
}

int64_t tw_monitored_way(const tw_monitored *m, int64_t couple, int32_t *moves, int64_t moves_n) {
    if (!m || couple < 0 || couple >= m->couples_n)
        return TW_BAD_SIZE;
    int64_t steps = 0;
    for (int64_t at = couple; m->couples[at].parent >= 0; at = m->couples[at].parent)
        steps++;
    if (moves_n < steps || (moves_n && !moves))
        return TW_BAD_SIZE;
    for (int64_t i = steps; i-- > 0; couple = m->couples[couple].parent)
        moves[i] = m->couples[couple].move;
    return steps;
}
