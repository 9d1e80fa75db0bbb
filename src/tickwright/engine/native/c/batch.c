/* Many runs in one call: layouts under scripts of the hand, and presses of many lengths. */

#include "world.h"
#include <string.h>

static bool inside(int64_t first, int64_t n, int64_t all) {
    return first >= 0 && n >= 0 && n <= all && first <= all - n;
}

static int32_t check_layout(const tw_batch_data *d, const tw_layout *l) {
    if (!inside(l->cells, l->cells_n, d->cells_n) || !inside(l->probes, l->probes_n, d->probes_n) ||
        l->cells_n > TW_MOST_PARTS || l->probes_n > TW_MOST_PARTS || !inside(l->rules, 1, d->rules_n) || l->order < 0 ||
        l->order > 2 || (l->order == 2 && !l->shuffle))
        return TW_BAD_SIZE;
    int32_t bad = tw_good_cells(d->cells + 4 * l->cells, l->cells_n, 4, d->palette_n);
    return bad ? bad : tw_good_cells(d->probes + 4 * l->probes, l->probes_n, 4, 2);
}

/* Whether no array is missing and no count beyond what can be. */
static bool handed(const tw_batch_data *d) {
    const void *arrays[] = {d->rules, d->palette, d->cells, d->probes, d->layouts, d->acts, d->jobs, d->summaries};
    const int64_t counts[] = {d->rules_n,   d->palette_n, d->cells_n, d->probes_n,
                              d->layouts_n, d->acts_n,    d->jobs_n,  d->summaries_n};
    for (size_t i = 0; i < sizeof counts / sizeof *counts; i++)
        if (counts[i] < 0 || counts[i] > INT64_MAX / 1024 || (counts[i] && !arrays[i]))
            return false;
    return d->palette_n <= 65535 && (!d->jobs_n || d->endings);
}

static int32_t check_batch(const tw_batch_data *d, int64_t first, int64_t end, int64_t steps) {
    if (first < 0 || end < first || end > d->jobs_n || steps < 1 || steps > TW_NEVER / 4 || !handed(d))
        return TW_BAD_SIZE;
    for (int64_t i = 0; i < d->palette_n; i++)
        if (!tw_good_part(&d->palette[i]))
            return TW_BAD_PART;
    for (int64_t i = 0; i < d->rules_n; i++)
        if (!tw_good_rules(&d->rules[i]))
            return TW_BAD_SIZE;
    return TW_DONE;
}

static int32_t check_job(const tw_batch_data *d, const tw_job *j) {
    if (!inside(j->layout, 1, d->layouts_n) || !inside(j->acts, j->acts_n, d->acts_n))
        return TW_BAD_SIZE;
    return inside(j->summaries, d->layouts[j->layout].probes_n, d->summaries_n) ? TW_DONE : TW_BAD_SIZE;
}

static int32_t build_layout(tw_world *w, const tw_batch_data *d, const tw_layout *l) {
    int32_t bad = check_layout(d, l);
    if (bad)
        return bad;
    TW_TRY(w);
    return tw_build_checked(w, &d->rules[l->rules], d->palette, d->palette_n, d->cells + 4 * l->cells, l->cells_n,
                            d->probes + 4 * l->probes, l->probes_n, l->order, l->shuffle);
}

static void end_of(const tw_world *w, tw_ending *ending) {
    *ending = (tw_ending){w->now, w->acted, tw_next_step(w) < 0, TW_DONE};
}

/* Run to the end; notes are of no use here. */
static int32_t run_on(tw_world *w, int64_t until) {
    for (int32_t status = TW_MORE;;) {
        status = tw_advance(w, until, INT64_MAX / 2 - w->acted);
        w->notes_n = 0;
        if (status != TW_MORE)
            return status;
    }
}

static int32_t run_job(tw_world *w, const tw_batch_data *d, const tw_job *j, tw_ending *ending, int64_t steps) {
    int32_t status = tw_script(w, d->acts + j->acts, j->acts_n);
    if (status)
        return status;
    status = run_on(w, steps);
    if (status)
        return status;
    for (uint32_t i = 0; i < w->probes_n; i++)
        d->summaries[j->summaries + i] = w->probes[i].sum;
    end_of(w, ending);
    return TW_DONE;
}

/* The next job takes the same layout, so that it pays to keep what was built. */
static bool kept_for_next(const tw_batch_data *d, int64_t job, int64_t end) {
    return job + 1 < end && d->jobs[job + 1].layout == d->jobs[job].layout;
}

int32_t tw_batch(tw_world *base, tw_world *w, const tw_batch_data *d, int64_t first, int64_t end, int64_t steps) {
    if (!base || !w || base == w || !d)
        return TW_BAD_SIZE;
    int32_t status = check_batch(d, first, end, steps);
    int64_t built = -1;
    for (int64_t job = first; !status && job < end; job++) {
        const tw_job *j = &d->jobs[job];
        tw_world *running = base;
        status = check_job(d, j);
        if (!status && built != j->layout) {
            status = build_layout(base, d, &d->layouts[j->layout]);
            built = j->layout;
        }
        if (!status && kept_for_next(d, job, end)) {
            status = tw_copy(w, base);
            running = w;
        } else {
            built = -1;
        }
        if (!status)
            status = run_job(running, d, j, &d->endings[job], steps);
        if (status)
            d->endings[job].status = status;
    }
    return status;
}

/* --- presses of many lengths -------------------------------------------------------------------------------------- */

/* Press the button for ever; what its release will be once it has a step. */
static int32_t hold(tw_world *w, const int32_t *cell, int64_t step, tw_late *release) {
    TW_TRY(w);
    int32_t s = tw_at(w, cell[0], cell[1], cell[2]);
    if (!tw_is(w, s, TW_BUTTON) || w->live[s].level)
        return TW_BAD_CELL;
    if (w->now < step)
        tw_one_step(w, step);
    *release = (tw_late){0, w->scheduled++, (uint32_t)s << 3 | w->ranks.plain};
    w->live[s].flags |= TW_WAITING;
    tw_set_level(w, s, (uint32_t)w->rules.full);
    tw_changed(w, s, true);
    tw_sample(w);
    return TW_DONE;
}

static int64_t shifted(int64_t step, int64_t after, int64_t by) {
    return step >= after ? step + by : step;
}

/* A press by so many steps longer than one that came to rest while it was held ends as that one did, later. */
static void shift(const tw_summary *from, tw_summary *to, uint32_t n, int64_t after, int64_t by) {
    for (uint32_t i = 0; i < n; i++) {
        to[i] = from[i];
        to[i].first_on = shifted(from[i].first_on, after, by);
        to[i].last_off = shifted(from[i].last_off, after, by);
    }
}

static int32_t release_at(tw_world *w, const tw_world *held, tw_late release, int64_t step, int64_t until) {
    int32_t copied = tw_copy(w, held);
    if (copied)
        return copied;
    TW_TRY(w);
    if (step < until && w->live[release.what >> 3].flags & TW_WAITING) /* else the button broke meanwhile */
        tw_put_event(w, step, release.what, release.order);
    return run_on(w, until);
}

static bool good_lengths(const int64_t *lengths, int64_t n, int64_t step, int64_t until) {
    for (int64_t i = 0; i < n; i++)
        if (lengths[i] < 1 || lengths[i] > TW_NEVER / 8 || (i && lengths[i] <= lengths[i - 1]))
            return false;
    return step >= 0 && until > step && until < TW_NEVER / 8;
}

int32_t tw_lengths(tw_world *held, tw_world *w, const tw_world *from, const int32_t *cell, int64_t step, int64_t until,
                   const int64_t *lengths, int64_t lengths_n, tw_summary *summaries, int64_t summaries_n,
                   tw_ending *endings) {
    if (!held || !w || !from || !cell || held == w || held == from || w == from || !from->built || lengths_n < 0 ||
        lengths_n > TW_MOST_PARTS || !lengths || !summaries || !endings || from->now > step ||
        summaries_n != lengths_n * (int64_t)from->probes_n || !good_lengths(lengths, lengths_n, step, until) ||
        tw_good_cells(cell, 1, 3, 0))
        return TW_BAD_SIZE;
    tw_late release = {0, 0, 0};
    uint32_t probes = from->probes_n;
    int32_t status = tw_copy(held, from);
    status = status ? status : run_on(held, step);
    status = status ? status : hold(held, cell, step, &release);
    int64_t rested = -1; /* the first length at whose end the held press had come to rest, and which came to rest */
    for (int64_t i = 0; !status && i < lengths_n; i++) {
        tw_summary *into = summaries + i * (int64_t)probes;
        int64_t by = rested < 0 ? 0 : lengths[i] - lengths[rested];
        if (rested >= 0 && endings[rested].last_step + by < until) {
            shift(summaries + rested * (int64_t)probes, into, probes, step + lengths[rested], by);
            endings[i] = endings[rested];
            endings[i].last_step = shifted(endings[rested].last_step, step + lengths[rested], by);
            continue;
        }
        int64_t end = step + lengths[i];
        status = run_on(held, end < until ? end : until);
        status = status ? status : release_at(w, held, release, end, until);
        if (status)
            break;
        for (uint32_t k = 0; k < probes; k++)
            into[k] = w->probes[k].sum;
        end_of(w, &endings[i]);
        if (rested < 0 && tw_next_step(held) < 0 && endings[i].at_rest && end < until)
            rested = i;
    }
    return status;
}

/* --- further acts, tried in copies of a run --------------------------------------------------------------------------
 */

static bool good_jobs(const tw_world *held, const tw_act *acts, int64_t acts_n, const int64_t *starts, int64_t first,
                      int64_t jobs_n) {
    int64_t before = held->now + 1;
    for (int64_t job = first; job < jobs_n; job++) {
        if (starts[job] < 0 || starts[job + 1] <= starts[job] || starts[job + 1] > acts_n ||
            acts[starts[job]].step < before)
            return false;
        before = acts[starts[job]].step;
        for (int64_t i = starts[job]; i < starts[job + 1]; i++)
            if (!tw_good_act(held, &acts[i]) || (i > starts[job] && acts[i].step < acts[i - 1].step))
                return false;
    }
    return true;
}

static int32_t run_further(tw_world *w, const tw_world *held, const tw_act *acts, int64_t n, int64_t until) {
    int32_t copied = tw_copy(w, held);
    if (copied)
        return copied;
    TW_TRY(w);
    for (int64_t i = 0; i < n; i++)
        tw_insert_act(w, &acts[i]);
    return run_on(w, until);
}

int64_t tw_further(tw_world *held, tw_world *w, const tw_act *acts, int64_t acts_n, const int64_t *starts,
                   int64_t first, int64_t jobs_n, int64_t until, tw_change *into, int64_t into_n, int64_t *ends,
                   tw_ending *endings) {
    if (!held || !w || held == w || !held->built || !acts || acts_n < 0 || acts_n > TW_MOST_PARTS || !starts ||
        first < 0 || jobs_n < first || jobs_n > TW_MOST_PARTS || until < 1 || until > TW_NEVER / 8 || into_n < 0 ||
        !into || !ends || !endings || !good_jobs(held, acts, acts_n, starts, first, jobs_n))
        return TW_BAD_SIZE;
    int64_t used = 0;
    for (int64_t job = first; job < jobs_n; job++) {
        int64_t step = acts[starts[job]].step;
        int32_t status = run_on(held, step < until ? step : until);
        status = status ? status : run_further(w, held, acts + starts[job], starts[job + 1] - starts[job], until);
        if (status)
            return status;
        if (w->changes_n > (uint64_t)(into_n - used))
            return job;
        if (w->changes_n)
            memcpy(into + used, w->changes, w->changes_n * sizeof *into);
        used += w->changes_n;
        ends[job] = used;
        end_of(w, &endings[job]);
    }
    return jobs_n;
}
