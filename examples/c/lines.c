/* Answers the requests on standard input, one a line, as the program's own command `call` does. */
#define _POSIX_C_SOURCE 200809L
#include "pointage.h"
#include <stdio.h>
#include <stdlib.h>

int main(void) {
    char *line = NULL;
    size_t room = 0;
    while (getline(&line, &room, stdin) > 0) {
        char *answer = pointage_call(line);
        puts(answer);
        pointage_free(answer);
    }
    free(line);
    return ferror(stdin) || fflush(stdout) ? 1 : 0;
}
