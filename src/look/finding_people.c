/* Several spans of one participant to one value.
 *
 * The mean of the spans that have a value, each span the same, but for: noticed, in any span;
 * duration of the first fixation, that of the first span in which there is one; longest glance, the
 * longest; time to first fixation, the spans one after the other: what is known of the spans before
 * the one in which they looked counts as waiting. */
#include "look/finding_people.h"

#include <math.h>
#include <string.h>

typedef struct {
    double sums[LF_MEASURES];
    guint counts[LF_MEASURES];
    double waited_s; /* until they looked, or until now */
    bool looked, known;
    double span_s, unknown_s;
} PeopleCell;

struct LookPeople {
    bool by_group;
    GPtrArray *topics, *persons;
    GHashTable *topic_of, *person_of; /* text key -> index + 1 */
    GHashTable *group_of;             /* participant key -> first group key, owned */
    GHashTable *cells;                /* topic << 32 | person -> PeopleCell */
    bool shared;
};

const char *lf_finding_rule(LfMeasure measure)
{
    switch (measure) {
    case LF_MEASURE_NOTICED:
        return "1 where it is 1 in any span";
    case LF_MEASURE_FIRST_SEEN:
        return "spans one after the other, in the order of walks: known time of spans without a "
               "look counts as waiting";
    case LF_MEASURE_FIRST_FIXATION:
        return "that of the first span with one";
    case LF_MEASURE_GLANCE_LONGEST:
        return "the largest of the spans";
    default:
        return "mean of the spans that have a value";
    }
}

static void look_topic_free(gpointer data)
{
    LookTopic *topic = data;
    g_free(topic->photo);
    g_free(topic->name);
    g_free(topic->span);
    g_free(topic);
}

static void look_person_free(gpointer data)
{
    LookPerson *person = data;
    g_free(person->group);
    g_free(person);
}

LookPeople *look_people_new(bool by_group)
{
    LookPeople *people = g_new0(LookPeople, 1);
    people->by_group = by_group;
    people->topics = g_ptr_array_new_with_free_func(look_topic_free);
    people->persons = g_ptr_array_new_with_free_func(look_person_free);
    people->topic_of = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    people->person_of = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    people->group_of = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    people->cells = g_hash_table_new_full(g_int64_hash, g_int64_equal, g_free, g_free);
    return people;
}

void look_people_free(LookPeople *people)
{
    if (!people)
        return;
    g_ptr_array_unref(people->topics);
    g_ptr_array_unref(people->persons);
    g_hash_table_unref(people->topic_of);
    g_hash_table_unref(people->person_of);
    g_hash_table_unref(people->group_of);
    g_hash_table_unref(people->cells);
    g_free(people);
}

/* Names may hold anything but control characters, so one of these parts them in a key. */
static guint look_people_topic(LookPeople *people, const LfMeasureRow *row)
{
    g_autofree char *key = g_strdup_printf("%s\x1f%d\x1f%s\x1f%s", row->photo, row->level,
                                           row->target, row->head.span);
    guint at = GPOINTER_TO_UINT(g_hash_table_lookup(people->topic_of, key));
    if (at > 0)
        return at - 1;
    LookTopic *topic = g_new0(LookTopic, 1);
    topic->photo = g_strdup(row->photo);
    topic->name = g_strdup(row->target);
    topic->span = g_strdup(row->head.span);
    topic->level = row->level;
    g_ptr_array_add(people->topics, topic);
    g_hash_table_insert(people->topic_of, g_steal_pointer(&key),
                        GUINT_TO_POINTER(people->topics->len));
    return people->topics->len - 1;
}

/* A participant and a walk may bear the same name. */
static guint look_people_person(LookPeople *people, const LfMeasureHead *head)
{
    g_autofree char *who = head->participant ? g_strdup_printf("p%s", head->participant)
                                             : g_strdup_printf("w%s", head->walk);
    g_autofree char *group =
        people->by_group && head->group ? g_strdup_printf("g%s", head->group) : g_strdup("");
    g_autofree char *key = g_strdup_printf("%s\x1f%s", who, group);
    guint at = GPOINTER_TO_UINT(g_hash_table_lookup(people->person_of, key));
    if (at > 0)
        return at - 1;
    const char *before = g_hash_table_lookup(people->group_of, who);
    people->shared = people->shared || (before && *group && strcmp(before, group) != 0);
    if (!before && *group)
        g_hash_table_insert(people->group_of, g_steal_pointer(&who), g_steal_pointer(&group));
    LookPerson *person = g_new0(LookPerson, 1);
    person->group = people->by_group ? g_strdup(head->group) : NULL;
    g_ptr_array_add(people->persons, person);
    g_hash_table_insert(people->person_of, g_steal_pointer(&key),
                        GUINT_TO_POINTER(people->persons->len));
    return people->persons->len - 1;
}

static PeopleCell *look_people_cell(LookPeople *people, guint topic, guint person)
{
    gint64 key = (gint64)topic << 32 | person;
    PeopleCell *cell = g_hash_table_lookup(people->cells, &key);
    if (!cell) {
        cell = g_new0(PeopleCell, 1);
        g_hash_table_insert(people->cells, g_memdup2(&key, sizeof key), cell);
    }
    return cell;
}

static void look_people_value(PeopleCell *cell, LfMeasure measure, double value)
{
    double *sum = &cell->sums[measure];
    if (isnan(value))
        return;
    bool first = cell->counts[measure]++ == 0;
    switch (measure) {
    case LF_MEASURE_NOTICED:
    case LF_MEASURE_GLANCE_LONGEST:
        *sum = first ? value : fmax(*sum, value);
        break;
    case LF_MEASURE_FIRST_FIXATION:
        *sum = first ? value : *sum;
        break;
    default:
        *sum += value;
    }
}

void look_people_add(LookPeople *people, const LfMeasureRow *row)
{
    guint topic = look_people_topic(people, row);
    PeopleCell *cell = look_people_cell(people, topic, look_people_person(people, &row->head));
    if (row->blank == LF_BLANK_NO_SPAN)
        return;
    cell->span_s += row->head.time.span_s;
    cell->unknown_s += row->head.time.unknown_s;
    if (row->blank != LF_BLANK_NOT && row->blank != LF_BLANK_NEVER)
        return;
    cell->known = true;
    for (int m = 0; m < LF_MEASURES; m++)
        look_people_value(cell, (LfMeasure)m, row->values[m].value);
    double seen_s = row->values[LF_MEASURE_FIRST_SEEN].value;
    if (!cell->looked)
        cell->waited_s += isnan(seen_s) ? row->head.time.known_until_s : seen_s;
    cell->looked = cell->looked || !isnan(seen_s);
}

const GPtrArray *look_people_topics(const LookPeople *people)
{
    return people->topics;
}

const GPtrArray *look_people_persons(const LookPeople *people)
{
    return people->persons;
}

bool look_people_shared(const LookPeople *people)
{
    return people->shared;
}

static double look_people_mean(const PeopleCell *cell, LfMeasure measure)
{
    if (cell->counts[measure] == 0)
        return NAN;
    switch (measure) {
    case LF_MEASURE_NOTICED:
    case LF_MEASURE_GLANCE_LONGEST:
    case LF_MEASURE_FIRST_FIXATION:
        return cell->sums[measure];
    default:
        return cell->sums[measure] / cell->counts[measure];
    }
}

bool look_people_part(const LookPeople *people, guint topic, guint person, LookPart *part)
{
    gint64 key = (gint64)topic << 32 | person;
    const PeopleCell *cell = g_hash_table_lookup(people->cells, &key);
    if (!cell)
        return false;
    *part = (LookPart){.known = cell->known,
                       .span_s = cell->span_s,
                       .unknown_s = cell->unknown_s,
                       .first_seen = {cell->known ? cell->waited_s : NAN, cell->looked}};
    for (int m = 0; m < LF_MEASURES; m++)
        part->values[m] = look_people_mean(cell, (LfMeasure)m);
    return true;
}
