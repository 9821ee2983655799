/* Pointage for C: one JSON request in, one JSON answer out.
 *
 * What a request and an answer look like is told by data/schema and by the documentation of
 * pointage_api::call. All functions may be called from any thread at any time.
 */
#ifndef POINTAGE_H
#define POINTAGE_H

#ifdef __cplusplus
extern "C" {
#endif

/* Answers one request. The answer is never NULL, ends with a zero byte, and is given back with
 * pointage_free as it came: copy it before you change it. What cannot be answered, NULL or text that is not UTF-8 too, is answered by an
 * object with "error". */
char *pointage_call(const char *request);

/* Frees an answer of pointage_call, once. NULL is allowed. */
void pointage_free(char *answer);

/* The version of the library, such as "0.1.0". Never freed. */
const char *pointage_version(void);

#ifdef __cplusplus
}
#endif

#endif
