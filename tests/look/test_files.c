/* Areas from SVG, CSV and planograms, and back. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <math.h>
#include <string.h>

#include <cmocka.h>

#include <lookfall/area.h>
#include <lookfall/mark.h>

static const LfAreaPhoto photo = {"shelf", 1000, 800, 2000};
static const LfAreaPhoto unmeasured = {"shelf", 1000, 800, (double)NAN};

static void note(const char *sentence, void *data)
{
    g_string_append_printf(data, "%s\n", sentence);
}

static GPtrArray *svg(const char *body, GString *notes, GError **error)
{
    g_autofree char *text = g_strdup_printf(
        "<?xml version=\"1.0\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" "
        "xmlns:inkscape=\"http://www.inkscape.org/namespaces/inkscape\" viewBox=\"0 0 1000 800\">"
        "%s</svg>",
        body);
    return lf_area_read_svg(text, strlen(text), "f.svg", &photo, notes ? note : NULL, notes, error);
}

/* Shapes in user units become photo px: half a pixel less, for SVG counts from the corner. */
static void test_svg_shapes(void **state)
{
    (void)state;
    static const struct {
        const char *body, *shape, *points;
    } cases[] = {
        {"<rect id=\"a\" x=\"10\" y=\"20\" width=\"30\" height=\"40\"/>", "rect",
         "9.5,19.5 39.5,19.5 39.5,59.5 9.5,59.5"},
        {"<rect id=\"a\" width=\"30px\" height=\"40\" transform=\"translate(5)\"/>", "rect",
         "4.5,-0.5 34.5,-0.5 34.5,39.5 4.5,39.5"},
        /* Turned by a right angle about 100,100: (x, y) -> (200 - y, x). */
        {"<rect id=\"a\" x=\"100\" y=\"100\" width=\"30\" height=\"40\" "
         "transform=\"rotate(90 100 100)\"/>",
         "rect", "99.5,99.5 99.5,129.5 59.5,129.5 59.5,99.5"},
        {"<rect id=\"a\" width=\"30\" height=\"40\" transform=\"skewX(45)\"/>", "polygon",
         "-0.5,-0.5 29.5,-0.5 69.5,39.5 39.5,39.5"},
        {"<rect id=\"a\" width=\"30\" height=\"40\" transform=\"skewY(45)\"/>", "polygon",
         "-0.5,-0.5 29.5,29.5 29.5,69.5 -0.5,39.5"},
        /* The rightmost comes first: scaled, then moved. */
        {"<rect id=\"a\" width=\"3\" height=\"4\" transform=\"translate(1,2) scale(10)\"/>", "rect",
         "0.5,1.5 30.5,1.5 30.5,41.5 0.5,41.5"},
        {"<g transform=\"translate(1,2)\"><g transform=\"scale(10 5)\">"
         "<rect id=\"a\" width=\"3\" height=\"4\"/></g></g>",
         "rect", "0.5,1.5 30.5,1.5 30.5,21.5 0.5,21.5"},
        {"<rect id=\"a\" width=\"3\" height=\"4\" transform=\"matrix(0 1 -1 0 50 60)\"/>", "rect",
         "49.5,59.5 49.5,62.5 45.5,62.5 45.5,59.5"},
        {"<circle id=\"a\" cx=\"50\" cy=\"60\" r=\"10\"/>", "ellipse",
         "49.5,59.5 59.5,59.5 49.5,69.5"},
        {"<ellipse id=\"a\" cx=\"50\" cy=\"60\" rx=\"10\" ry=\"5\" transform=\"scale(2)\"/>",
         "ellipse", "99.5,119.5 119.5,119.5 99.5,129.5"},
        {"<polygon id=\"a\" points=\"0,0 10 0-5,7\"/>", "polygon", "-0.5,-0.5 9.5,-0.5 -5.5,6.5"},
        {"<polyline id=\"a\" points=\"0,0 10,0 5,7\"/>", "polygon", "-0.5,-0.5 9.5,-0.5 4.5,6.5"},
        {"<path id=\"a\" d=\"M10,20h30v40H10z\"/>", "polygon",
         "9.5,19.5 39.5,19.5 39.5,59.5 9.5,59.5"},
        {"<path id=\"a\" d=\"m10 20 30 0 0 40-30 0\"/>", "polygon",
         "9.5,19.5 39.5,19.5 39.5,59.5 9.5,59.5"},
        /* Two rings, the second from the first one's start; a moveto alone draws nothing. */
        {"<path id=\"a\" d=\"M10 10h9v9h-9z m20 0h9v9h-9zM5 5\"/>", "path",
         "9.5,9.5 18.5,9.5 18.5,18.5 9.5,18.5; 29.5,9.5 38.5,9.5 38.5,18.5 29.5,18.5"},
        /* A ring inside another one that runs the same way: no hole by the nonzero rule ... */
        {"<path id=\"a\" d=\"M0 0h9v9h-9z M3 3h3v3h-3z\"/>", "polygon",
         "-0.5,-0.5 8.5,-0.5 8.5,8.5 -0.5,8.5"},
        /* ... one that runs the other way is, and one by the other rule. */
        {"<path id=\"a\" d=\"M0 0h9v9h-9z M3 3v3h3v-3z\"/>", "path",
         "-0.5,-0.5 8.5,-0.5 8.5,8.5 -0.5,8.5; 2.5,2.5 2.5,5.5 5.5,5.5 5.5,2.5"},
        {"<g style=\"fill:red; fill-rule : evenodd\"><path id=\"a\" d=\"M0 0h9v9h-9z M3 "
         "3h3v3h-3z\"/></g>",
         "path", "-0.5,-0.5 8.5,-0.5 8.5,8.5 -0.5,8.5; 2.5,2.5 5.5,2.5 5.5,5.5 2.5,5.5"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) areas = svg(cases[i].body, NULL, &error);
        if (!areas)
            fail_msg("%s: %s", cases[i].body, error->message);
        assert_int_equal(areas->len, 1);
        g_autofree char *points = lf_area_points(areas->pdata[0]);
        assert_string_equal(lf_area_shape_name(((LfArea *)areas->pdata[0])->shape), cases[i].shape);
        assert_string_equal(points, cases[i].points);
    }
}

/* Curves: every corner lies within 0.05 px of the curve, and so does every edge's middle. */
static void test_svg_curves(void **state)
{
    (void)state;
    static const struct {
        const char *body;
        double surface_px2; /* by hand */
    } cases[] = {
        /* Half a disc of radius 100, closed by its diameter; the same as two arcs. */
        {"<path id=\"a\" d=\"M 100 300 A 100 100 0 0 1 300 300 Z\"/>", G_PI * 5000},
        {"<path id=\"a\" d=\"M100 300a100 100 0 01100-100a100 100 0 01100 100z\"/>", G_PI * 5000},
        /* The long way round. */
        {"<path id=\"a\" d=\"M 300 300 A 100 100 0 1 1 200 200 L 200 300 Z\"/>", G_PI * 7500},
        /* Radii too small to reach are made larger (F.6.6). */
        {"<path id=\"a\" d=\"M 100 300 A 10 10 0 0 1 300 300 Z\"/>", G_PI * 5000},
        /* An ellipse's half, turned: any diameter halves it. */
        {"<path id=\"a\" d=\"M 200 300 A 100 50 30 0 1 373.2050808 400 Z\"/>", G_PI * 2500},
        {"<rect id=\"a\" x=\"50\" y=\"50\" width=\"200\" height=\"100\" rx=\"20\"/>",
         20000 - (4 - G_PI) * 400},
        /* Parabola y = x^2 / 100 from -100 to 100 under its chord: 2/3 of the box. */
        {"<path id=\"a\" d=\"M 100 200 Q 200 0 300 200 Z\"/>", 200.0 * 100 * 2 / 3},
        {"<path id=\"a\" d=\"M 100 200 C 166.6666667 66.6666667 233.3333333 66.6666667 300 200 "
         "Z\"/>",
         200.0 * 100 * 2 / 3},
        /* T and S mirror the control point before: two arches, one up, one down. */
        {"<path id=\"a\" d=\"M 100 200 Q 200 0 300 200 T 500 200 L 500 400 100 400 Z\"/>", 80000},
        {"<path id=\"a\" d=\"M 100 200 C 166.66 66.66 233.34 66.66 300 200 S 433.34 333.34 500 200 "
         "L 500 400 100 400 Z\"/>",
         80000},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) areas = svg(cases[i].body, NULL, &error);
        if (!areas)
            fail_msg("%s: %s", cases[i].body, error->message);
        double surface = lf_area_surface_px2(areas->pdata[0]);
        /* Chords lie at most 0.05 px inside or outside, over an outline of some 1,000 px. */
        if (fabs(surface - cases[i].surface_px2) > 50)
            fail_msg("%s: %g, not %g", cases[i].body, surface, cases[i].surface_px2);
    }
}

static void test_svg_names(void **state)
{
    (void)state;
    g_autoptr(GString) notes = g_string_new(NULL);
    g_autoptr(GError) error = NULL;
    g_autoptr(GPtrArray) areas =
        svg("<defs><rect id=\"no\" width=\"1\" height=\"1\"/></defs><title>t</title>"
            "<g id=\"g12\" inkscape:label=\"upper shelf\"><g id=\"Morrow\">"
            "<rect id=\"r1\" inkscape:label=\"oats &amp; rye\" width=\"9\" height=\"9\"/></g>"
            "<rect id=\"r2\" width=\"9\" height=\"9\"/></g>"
            "<g id=\"g13\"><g id=\"layer1\"><rect id=\"r3\" width=\"9\" height=\"9\"/></g></g>"
            "<g style=\"display:none\"><rect id=\"r4\" width=\"9\" height=\"9\"/></g>"
            "<text>words <tspan>in it</tspan></text><line/><use href=\"#r1\"/>",
            notes, &error);
    static const char *const wanted[][2] = {
        {"oats & rye", "upper shelf/Morrow"}, {"r2", "upper shelf"}, {"r3", ""}};
    assert_non_null(areas);
    assert_int_equal(areas->len, G_N_ELEMENTS(wanted));
    for (guint i = 0; i < areas->len; i++) {
        assert_string_equal(((LfArea *)areas->pdata[i])->name, wanted[i][0]);
        assert_string_equal(((LfArea *)areas->pdata[i])->group_path, wanted[i][1]);
    }
    assert_string_equal(notes->str, "f.svg: passed over what is no area: text, line, use\n"
                                    "f.svg: passed over 1 hidden shape\n");
}

/* The drawing's page is the photo, whatever its units. */
static void test_svg_page(void **state)
{
    (void)state;
    static const struct {
        const char *root;
        const char *points; /* NULL: refused */
    } cases[] = {
        {"<svg>", "9.5,9.5 19.5,9.5 19.5,19.5 9.5,19.5"},
        {"<svg width=\"100%\" height=\"100%\">", "9.5,9.5 19.5,9.5 19.5,19.5 9.5,19.5"},
        {"<svg width=\"500\" height=\"400\">", "19.5,19.5 39.5,19.5 39.5,39.5 19.5,39.5"},
        {"<svg width=\"210mm\" height=\"168mm\" viewBox=\"0 0 250 200\">",
         "39.5,39.5 79.5,39.5 79.5,79.5 39.5,79.5"},
        {"<svg viewBox=\"10 10 250 200\">", "-0.5,-0.5 39.5,-0.5 39.5,39.5 -0.5,39.5"},
        {"<svg viewBox=\"0 0 500 500\">", NULL},
        {"<svg viewBox=\"0 0 0 500\">", NULL},
        {"<svg viewBox=\"0 0 a\">", NULL},
        {"<svg width=\"210mm\" height=\"168mm\">", NULL},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text = g_strconcat(
            cases[i].root, "<rect id=\"a\" x=\"10\" y=\"10\" width=\"10\" height=\"10\"/></svg>",
            NULL);
        g_autoptr(GPtrArray) areas =
            lf_area_read_svg(text, strlen(text), "f.svg", &photo, NULL, NULL, &error);
        if ((areas != NULL) != (cases[i].points != NULL))
            fail_msg("%s: %s", cases[i].root, error ? error->message : "was taken");
        if (!areas)
            continue;
        g_autofree char *points = lf_area_points(areas->pdata[0]);
        assert_string_equal(points, cases[i].points);
    }
}

static void test_svg_refused(void **state)
{
    (void)state;
    static const struct {
        const char *body, *fault;
    } cases[] = {
        {"", "there is no area in it"},
        {"<rect width=\"9\" height=\"9\"/>", "line 2: the rect has no name"},
        {"\n<rect id=\"a\" width=\"9\" height=\"9\"/>\n<rect id=\"a\" width=\"9\" height=\"9\"/>",
         "line 4: the name a is there already, in line 3"},
        {"<rect id=\"a\" width=\"9\"/>", "area a has no surface"},
        {"<rect id=\"a\" width=\"9mm\" height=\"9\"/>", "must be a number in px"},
        {"<rect id=\"a\" width=\"9\" height=\"9\" transform=\"turn(5)\"/>", "cannot be understood"},
        {"<rect id=\"a\" width=\"9\" height=\"9\" transform=\"rotate(5\"/>",
         "cannot be understood"},
        {"<rect id=\"a\" width=\"9\" height=\"9\" transform=\"scale(0)\"/>", "has no surface"},
        {"<polygon id=\"a\" points=\"0,0 1,0 1\"/>", "3 corners or more"},
        {"<polygon id=\"a\" points=\"0,0 1,0 1,x\"/>", "not pairs of numbers"},
        {"<path id=\"a\" d=\"L 0 0\"/>", "from its character 1 on"},
        {"<path id=\"a\" d=\"M 0 0 L 5 5 Q 3\"/>", "from its character"},
        {"<path id=\"a\" d=\"M 0 0 z 5\"/>", "from its character"},
        {"<path id=\"a\" d=\"M 0 0 A 5 5 0 2 1 9 9\"/>", "from its character"},
        {"<path id=\"a\" d=\"M 0 0 L 9 9 0 9 9 0 z\"/>", "crosses its own outline"},
        {"<path id=\"a\"/>", "3 corners"},
        {"<rect id=\"a\" x=\"5000\" width=\"9\" height=\"9\"/>", "lies off the photo"},
        {"<rect id=\"a\" width=\"9\" height=\"9\">", "cannot be read as SVG"},
        {"&nothing;", "cannot be read as SVG"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) areas = svg(cases[i].body, NULL, &error);
        if (areas || !g_error_matches(error, LF_ERROR, LF_ERROR_INPUT) ||
            !strstr(error->message, cases[i].fault) || !g_str_has_prefix(error->message, "f.svg") ||
            strchr(error->message, '\n'))
            fail_msg("%s: %s", cases[i].body, error ? error->message : "was taken");
    }
    g_autoptr(GError) error = NULL;
    assert_null(lf_area_read_svg("<html/>", 7, "f.svg", &photo, NULL, NULL, &error));
    assert_non_null(strstr(error->message, "no SVG drawing"));
}

static void expect_equal(const GPtrArray *a, const GPtrArray *b)
{
    assert_int_equal(a->len, b->len);
    for (guint i = 0; i < a->len; i++) {
        const LfArea *x = a->pdata[i], *y = b->pdata[i];
        g_autofree char *of_x = lf_area_points(x), *of_y = lf_area_points(y);
        assert_string_equal(x->name, y->name);
        assert_string_equal(x->group_path, y->group_path);
        assert_int_equal(x->shape, y->shape);
        assert_string_equal(of_x, of_y);
    }
}

/* What was written reads back as the same areas. */
static void test_round_trip(void **state)
{
    (void)state;
    static const char table[] =
        "name,group,shape,points\n"
        "\"oats, 500 g\",upper/Morrow,rect,\"10,20 30.25,20 30.25,40 10,40\"\n"
        "<b>&,upper/Morrow,rect,\"10,40 10,20 30,20 30,40\"\n"
        "turned,upper,rect,\"100,100 108,106 102,114 94,108\"\n"
        "round,,ellipse,\"50,60 70,60 50,65\"\n"
        "oval,lower,ellipse,\"50.1234,60 70,61 45,80\"\n"
        "odd \"\"one\"\",lower,polygon,\"0,0 9,0 5,5 4.5,9.8765\"\n"
        "ring,lower/Quill/a,path,\"0,0 99,0 99,99 0,99; 30,30 60,30 60,60\"\n";
    g_autoptr(GError) error = NULL;
    g_autofree char *text = g_strdup(table);
    /* The cell with quotes is quoted as a whole. */
    char *odd = strstr(text, "odd \"\"one\"\"");
    g_autofree char *quoted =
        g_strdup_printf("%.*s\"odd \"\"one\"\"\"%s", (int)(odd - text), text, odd + 11);
    g_autoptr(GPtrArray) areas = lf_area_read_csv(quoted, strlen(quoted), "f.csv", &photo, &error);
    if (!areas)
        fail_msg("%s", error->message);
    g_autofree char *csv = lf_area_write_csv(areas);
    g_autoptr(GPtrArray) from_csv = lf_area_read_csv(csv, strlen(csv), "f.csv", &photo, &error);
    assert_non_null(from_csv);
    expect_equal(areas, from_csv);
    g_autofree char *drawing = lf_area_write_svg(areas, &photo, "file:///a&b.png");
    g_autoptr(GPtrArray) from_svg =
        lf_area_read_svg(drawing, strlen(drawing), "f.svg", &photo, NULL, NULL, &error);
    if (!from_svg)
        fail_msg("%s", error->message);
    expect_equal(areas, from_svg);
}

static void test_csv_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *fault;
    } cases[] = {
        {"", "f.csv: it is empty"},
        {"name,shape,points\n", "f.csv: there is no area in it"},
        {"name,shape\na,rect\n", "f.csv, row 1: the column points is missing"},
        {"name,shape,points,colour\n", "f.csv, row 1: there is no column called \"colour\""},
        {"name,name,shape,points\n", "row 1: the column name is there twice"},
        {"name,shape,points\n\na,square,\"0,0 1,0 1,1 0,1\"\n", "row 3: \"square\" is no shape"},
        {"name,shape,points\na,rect,\"0,0 1,0 1,1 0,1\",x\n", "row 2: it has 4 fields"},
        {"name,shape,points\na,rect,\"0,0 1,0 1,1 0,1\n", "a quote"},
        {"name,shape,points\n,rect,\"0,0 1,0 1,1 0,1\"\n", "row 2: the area's name"},
        {"name,shape,points\na\xff,rect,\"0,0 1,0 1,1 0,1\"\n", "f.csv: it is not text in UTF-8"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) areas =
            lf_area_read_csv(cases[i].text, strlen(cases[i].text), "f.csv", &photo, &error);
        if (areas || !strstr(error->message, cases[i].fault))
            fail_msg("case %zu: %s", i, error ? error->message : "was taken");
    }
}

static void test_planogram(void **state)
{
    (void)state;
    static const char table[] = "\xef\xbb\xbfshelf;position;facings;item;x;y;width;height\r\n"
                                "upper;1;3;Morrow oats;10;20;300;100\r\n"
                                "upper;2;1;Quill tea;320;20;100;100\r\n"
                                "lower;1;1;Quill tea;10;400;100;100\r\n";
    static const struct {
        const char *name, *group, *px, *mm;
    } wanted[] = {
        /* The photo shows 2 m on 1,000 px: a millimetre is half a pixel. */
        {"Morrow oats 1", "upper/Morrow oats", "10,20 110,20 110,120 10,120",
         "4.5,9.5 54.5,9.5 54.5,59.5 4.5,59.5"},
        {"Morrow oats 2", "upper/Morrow oats", "110,20 210,20 210,120 110,120",
         "54.5,9.5 104.5,9.5 104.5,59.5 54.5,59.5"},
        {"Morrow oats 3", "upper/Morrow oats", "210,20 310,20 310,120 210,120",
         "104.5,9.5 154.5,9.5 154.5,59.5 104.5,59.5"},
        {"Quill tea, upper 2", "upper/Quill tea", "320,20 420,20 420,120 320,120",
         "159.5,9.5 209.5,9.5 209.5,59.5 159.5,59.5"},
        {"Quill tea, lower 1", "lower/Quill tea", "10,400 110,400 110,500 10,500",
         "4.5,199.5 54.5,199.5 54.5,249.5 4.5,249.5"},
    };
    for (int mm = 0; mm < 2; mm++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) areas =
            lf_area_read_planogram(table, strlen(table), "p.csv", &photo, mm, &error);
        if (!areas)
            fail_msg("%s", error->message);
        assert_int_equal(areas->len, G_N_ELEMENTS(wanted));
        for (guint i = 0; i < areas->len; i++) {
            const LfArea *area = areas->pdata[i];
            g_autofree char *points = lf_area_points(area);
            assert_string_equal(area->name, wanted[i].name);
            assert_string_equal(area->group_path, wanted[i].group);
            assert_string_equal(points, mm ? wanted[i].mm : wanted[i].px);
        }
    }
}

static void test_planogram_refused(void **state)
{
    (void)state;
    static const struct {
        const char *row, *fault;
        bool mm;
    } cases[] = {
        {"u,1,1,a,0,0,10,10", "width of photo shelf is not known", true},
        {"u,1,1,a,0,0,0,10", "row 2: a has no area", false},
        {"u,1,1,a,0,0,-5,10", "row 2: a has no area", false},
        {"u,1,0,a,0,0,10,10", "row 2: facings must be a whole number from 1", false},
        {"u,1,1.5,a,0,0,10,10", "row 2: facings must be a whole number from 1", false},
        {"u,1,1,a,x,0,10,10", "row 2: x must be a number", false},
        {"u,1,1,a,nan,0,10,10", "row 2: x must be a number", false},
        {"u,1,1,a,0x1,0,10,10", "row 2: x must be a number", false},
        {"u,1,1,a/b,0,0,10,10", "must not hold a '/'", false},
        {"u,1,1,a,0,0,10,10\nu,1,1,a,20,0,10,10", "row 3: the name a, u 1 is there already", false},
        {"u,1,1,a,5000,0,10,10", "row 2: area a lies off the photo", false},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autofree char *text =
            g_strconcat("shelf,position,facings,item,x,y,width,height\n", cases[i].row, NULL);
        g_autoptr(GPtrArray) areas =
            lf_area_read_planogram(text, strlen(text), "p.csv", &unmeasured, cases[i].mm, &error);
        if (areas || !strstr(error->message, cases[i].fault))
            fail_msg("%s: %s", cases[i].row, error ? error->message : "was taken");
    }
}

static void test_marks(void **state)
{
    (void)state;
    static const char table[] = "walk,name,from_s,to_s,who,at\r\n"
                                "\"w, 1\",door,1.500000,,Ida,2026-03-01T10:00:00Z\r\n"
                                "w02,talk,0.000001,4.250000,,\r\n";
    g_autoptr(GError) error = NULL;
    g_autoptr(GArray) rows = g_array_new(FALSE, FALSE, sizeof(gsize));
    g_autoptr(GPtrArray) marks = lf_mark_read_csv(table, strlen(table), "m.csv", rows, &error);
    if (!marks)
        fail_msg("%s", error->message);
    assert_int_equal(marks->len, 2);
    const LfMark *door = marks->pdata[0], *talk = marks->pdata[1];
    assert_string_equal(door->walk, "w, 1");
    assert_true(door->from_us == 1500000 && door->to_us == 1500000 && !door->span);
    assert_true(talk->from_us == 1 && talk->to_us == 4250000 && talk->span);
    assert_int_equal(g_array_index(rows, gsize, 1), 3);
    g_autofree char *text = lf_mark_write_csv(marks);
    assert_string_equal(text, table);
}

static void test_marks_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *fault;
    } cases[] = {
        {"walk,name,from_s\n", "m.csv: it has a header row, but no mark"},
        {"walk,name\n", "m.csv, row 1: the column from_s is missing"},
        {"walk,name,from_s\nw,,1\n", "row 2: name is blank"},
        {"walk,name,from_s\n,a,1\n", "row 2: walk is blank"},
        {"walk,name,from_s\nw,a,\n", "row 2: from_s must be a number"},
        {"walk,name,from_s\nw,a,1:30\n", "row 2: from_s must be a number"},
        {"walk,name,from_s,to_s\nw,a,2,2\n", "row 2: to_s 2 is not after from_s 2"},
        {"walk,name,from_s,to_s\nw,a,2,1e12\n", "row 2: to_s is in seconds"},
    };
    for (gsize i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(GError) error = NULL;
        g_autoptr(GPtrArray) marks =
            lf_mark_read_csv(cases[i].text, strlen(cases[i].text), "m.csv", NULL, &error);
        if (marks || !strstr(error->message, cases[i].fault))
            fail_msg("case %zu: %s", i, error ? error->message : "was taken");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_svg_shapes),        cmocka_unit_test(test_svg_curves),
        cmocka_unit_test(test_svg_names),         cmocka_unit_test(test_svg_page),
        cmocka_unit_test(test_svg_refused),       cmocka_unit_test(test_round_trip),
        cmocka_unit_test(test_csv_refused),       cmocka_unit_test(test_planogram),
        cmocka_unit_test(test_planogram_refused), cmocka_unit_test(test_marks),
        cmocka_unit_test(test_marks_refused),
    };
    return cmocka_run_group_tests_name("look/files", tests, NULL, NULL);
}
