/* What the header promises about pointers and threads, tried out. */
#include "pointage.h"
#include <assert.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>

static const char REQUEST[] = "{\"version\": 1, \"command\": \"ready\", \"kind\": \"poolish\","
                              " \"dose_percent\": 0.3, \"yeast\": \"fresh\", \"at_c\": 21}";

static void expect(const char *request, const char *part) {
    char *answer = pointage_call(request);
    assert(answer != NULL && strstr(answer, "\"version\":1") != NULL);
    if (strstr(answer, part) == NULL) {
        fprintf(stderr, "no %s in %s\n", part, answer);
        assert(0);
    }
    pointage_free(answer);
}

static void *many(void *nothing) {
    for (int i = 0; i < 200; i++)
        expect(REQUEST, "\"ready_h\"");
    return nothing;
}

int main(void) {
    expect(REQUEST, "\"ready_h\"");
    expect(NULL, "null pointer");
    expect("", "\"kind\":\"malformed\"");
    expect("\xff\xfe", "UTF-8");
    expect("{\"version\": 1, \"command\": \"ice\", \"total_g\": -1, \"tap_c\": 18, \"want_c\": 5}",
           "\"field\":\"total_g\"");
    pointage_free(NULL);
    char *memory = pointage_alloc(sizeof REQUEST + 40);
    assert(memory != NULL && strlen(memory) == sizeof REQUEST + 40);
    memcpy(memory, REQUEST, sizeof REQUEST - 1);
    expect(memory, "\"ready_h\"");
    pointage_free(memory);
    assert(strchr(pointage_version(), '.') != NULL);

    pthread_t threads[4];
    for (int i = 0; i < 4; i++)
        assert(pthread_create(&threads[i], NULL, many, NULL) == 0);
    for (int i = 0; i < 4; i++)
        assert(pthread_join(threads[i], NULL) == 0);
    puts("ok");
    return 0;
}
