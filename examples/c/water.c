#include "pointage.h"
#include <stdio.h>

int main(void) {
    char *answer = pointage_call("{\"version\": 1, \"command\": \"water\", \"dough_c\": 24,"
                                 " \"flour_c\": 20, \"room_c\": 21, \"friction_factor_c\": 2}");
    puts(answer); /* {"version":1,"water_c":29.0,"ddt_formula": ... */
    pointage_free(answer);
    return 0;
}
