/* Memory for 8-bit YCbCr 4:2:0 pictures. */
#include <lookfall/video.h>

#include <string.h>

#include <libavutil/common.h>
#include <libavutil/mem.h>

/* Whole vectors may be read and written beyond the end of a row. */
enum { VIDEO_YUV_ALIGN = 64 };

LfYuv *lf_yuv_new(int width, int height)
{
    const int half_width = (width + 1) / 2, half_height = (height + 1) / 2;
    const size_t row = (size_t)FFALIGN(width, VIDEO_YUV_ALIGN);
    const size_t half_row = (size_t)FFALIGN(half_width, VIDEO_YUV_ALIGN);
    const size_t luma = row * (size_t)height, chroma = half_row * (size_t)half_height;
    LfYuv *yuv = g_new0(LfYuv, 1);
    uint8_t *memory = av_malloc(luma + 2 * chroma + VIDEO_YUV_ALIGN);

    if (memory == NULL) {
        g_free(yuv);
        return NULL;
    }
    memset(memory, 16, luma); /* black: ITU-R BT.709-6, item 4.6 */
    memset(memory + luma, 128, 2 * chroma + VIDEO_YUV_ALIGN);
    *yuv = (LfYuv){.width = width,
                   .height = height,
                   .plane = {memory, memory + luma, memory + luma + chroma},
                   .stride = {(ptrdiff_t)row, (ptrdiff_t)half_row, (ptrdiff_t)half_row}};
    return yuv;
}

void lf_yuv_free(LfYuv *yuv)
{
    if (yuv == NULL)
        return;
    av_free(yuv->plane[0]);
    g_free(yuv);
}

LfYuv lf_yuv_part(const LfYuv *yuv, int x, int y, int width, int height)
{
    LfYuv part = *yuv;

    part.width = width;
    part.height = height;
    part.plane[0] += y * yuv->stride[0] + x;
    for (int i = 1; i < 3; i++)
        part.plane[i] += y / 2 * yuv->stride[i] + x / 2;
    return part;
}
