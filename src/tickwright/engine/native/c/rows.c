/* Cells given as text: a code for each, rows one after another. */

#include "tw.h"

enum { TW_EMPTY_CODE = 0x20, TW_ROW_END = 0x0a, TW_FIRST_CODE = 0x21 };

int64_t tw_layer(const uint16_t *text, int64_t text_n, int32_t z, int32_t *into, int64_t into_n) {
    int64_t n = 0;
    int32_t x = 0, y = 0;
    if (text_n < 0 || into_n < 0)
        return TW_BAD_SIZE;
    for (int64_t i = 0; i < text_n; i++) {
        uint16_t code = text[i];
        if (code == TW_ROW_END) {
            x = 0;
            y++;
            continue;
        }
        if (code != TW_EMPTY_CODE) {
            if (code < TW_FIRST_CODE)
                return TW_BAD_PART;
            if (n == into_n)
                return TW_BAD_SIZE;
            int32_t *cell = into + 4 * n++;
            cell[0] = x, cell[1] = y, cell[2] = z, cell[3] = code - TW_FIRST_CODE;
        }
        x++;
    }
    return n;
}
