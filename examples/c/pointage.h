/* Pointage for C: one JSON request in, one JSON answer out.
 *
 * What a request and an answer look like is told by data/schema and by the documentation of
 * pointage_api::call. All functions may be called from any thread at any time.
 */
#ifndef POINTAGE_H
#define POINTAGE_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Answers one request. The answer is never NULL, ends with a zero byte, and is given back with
 * pointage_free as it came: copy it before you change it. What cannot be answered, NULL or text that is not UTF-8 too, is answered by an
 * object with "error". */
char *pointage_call(const char *request);

/* Memory for a request of so many bytes, for a caller that has none of its own. It is filled with blanks, which
 * JSON passes over, and ends with a zero byte behind them: write no other zero into it. Given back with
 * pointage_free. NULL when there is not as much memory. */
char *pointage_alloc(size_t bytes);

/* Frees an answer of pointage_call or memory of pointage_alloc, once. NULL is allowed. */
void pointage_free(char *answer);

/* The version of the library, such as "0.1.0". Never freed. */
const char *pointage_version(void);

#ifdef __cplusplus
}
#endif

#endif
