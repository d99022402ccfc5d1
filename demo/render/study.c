/* The files of a rendered study that belong to all its walks; see study.h. */
#include "study.h"

#include <cairo.h>

#include <lookfall/error.h>

static bool study_write_png(const LrLens *lens, const uint8_t *rgb, const char *path,
                            GError **error)
{
    cairo_surface_t *surface =
        cairo_image_surface_create(CAIRO_FORMAT_RGB24, lens->width, lens->height);
    int stride = cairo_image_surface_get_stride(surface);
    uint8_t *data = cairo_image_surface_get_data(surface);
    for (int y = 0; y < lens->height; y++) {
        uint32_t *row = (uint32_t *)(void *)(data + (gsize)y * (gsize)stride);
        const uint8_t *in = rgb + (gsize)y * (gsize)lens->width * 3;
        for (int x = 0; x < lens->width; x++, in += 3)
            row[x] = (uint32_t)in[0] << 16 | (uint32_t)in[1] << 8 | in[2];
    }
    cairo_surface_mark_dirty(surface);
    cairo_status_t status = cairo_surface_write_to_png(surface, path);
    cairo_surface_destroy(surface);
    if (status != CAIRO_STATUS_SUCCESS)
        g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s cannot be written: %s.", path,
                    cairo_status_to_string(status));
    return status == CAIRO_STATUS_SUCCESS;
}

bool lr_study_write_photos(const LrScene *scene, const char *out_dir, int jobs, GError **error)
{
    for (int i = 0; i < scene->n_photos; i++) {
        g_autofree char *path = g_strdup_printf("%s/%s.png", out_dir, scene->photos[i].name);
        g_autofree uint8_t *rgb = lr_scene_photo_render(scene, i, jobs);
        if (!study_write_png(&scene->photos[i].lens, rgb, path, error))
            return false;
    }
    return true;
}

static bool study_write_text(const char *out_dir, const char *name, const GString *text,
                             GError **error)
{
    g_autofree char *path = g_build_filename(out_dir, name, NULL);
    GError *cause = NULL;
    if (g_file_set_contents(path, text->str, (gssize)text->len, &cause))
        return true;
    g_set_error(error, LF_ERROR, LF_ERROR_MACHINE, "%s.", cause->message);
    g_error_free(cause);
    return false;
}

bool lr_study_write_areas(const LrScene *scene, const char *out_dir, GError **error)
{
    for (int i = 0; i < scene->n_photos; i++) {
        const LrPhoto *photo = &scene->photos[i];
        g_autofree char *name = g_strdup_printf("%s_areas.csv", photo->name);
        g_autoptr(GString) text = g_string_new("name,group,shape,points\n");
        for (guint k = 0; k < photo->packs->len; k++) {
            const LrPackPlace *pack = &g_array_index(photo->packs, LrPackPlace, k);
            g_string_append_printf(text, "%s %d,board %d/%s,polygon,", pack->name, pack->number,
                                   pack->board, pack->name);
            for (int c = 0; c < 4; c++) {
                double x = 0, y = 0;
                /* never behind the camera: it stands in front of the shelf */
                lr_photo_project(photo, pack->corners[c], &x, &y);
                g_string_append_printf(text, "%s%.2f,%.2f", c ? " " : "\"", x, y);
            }
            g_string_append(text, "\"\n");
        }
        if (photo->packs->len > 0 && !study_write_text(out_dir, name, text, error))
            return false;
    }
    return true;
}

bool lr_study_write_camera(const LrWalkJob *job, GError **error)
{
    const LrSceneSpec *spec = job->scene->spec;
    LrLens l = lr_lens_new(job->width, job->height, spec->field_deg, spec->k);
    g_autoptr(GString) text = g_string_new("%YAML:1.0\n---\n");
    g_string_append_printf(text, "image_width: %d\nimage_height: %d\n", l.width, l.height);
    g_string_append_printf(text,
                           "camera_matrix: !!opencv-matrix\n   rows: 3\n   cols: 3\n   dt: d\n"
                           "   data: [ %.15g, 0., %.15g, 0., %.15g, %.15g, 0., 0., 1. ]\n",
                           l.fx, l.cx, l.fy, l.cy);
    g_string_append_printf(text,
                           "distortion_coefficients: !!opencv-matrix\n   rows: 1\n   cols: 5\n"
                           "   dt: d\n   data: [ %.15g, %.15g, %.15g, %.15g, %.15g ]\n",
                           l.k[0], l.k[1], l.k[2], l.k[3], l.k[4]);
    return study_write_text(job->out_dir, "camera.yml", text, error);
}

bool lr_study_write_manifest(const LrScene *scene, const char *out_dir, int walks, GError **error)
{
    g_autoptr(GString) text = g_string_new("name,video,gaze,camera,participant,group\n");
    for (int i = 1; i <= walks; i++)
        g_string_append_printf(text, "w%02d,w%02d.mp4,w%02d_gaze.csv,camera.yml,p%02d,%s\n", i, i,
                               i, i, i % 2 ? "regulars" : "newcomers");
    if (!study_write_text(out_dir, "walks.csv", text, error))
        return false;
    g_string_assign(text, "name,image\n");
    for (int i = 0; i < scene->n_photos; i++)
        g_string_append_printf(text, "%s,%s.png\n", scene->photos[i].name, scene->photos[i].name);
    return study_write_text(out_dir, "photos.csv", text, error);
}
