/* The cardinal law for a slice of temperatures, as a C compiler makes it: the peer of `rates/cardinal_slice`.
 * Prints nanoseconds per value, the least of many rounds, and the sum of the rates to compare.
 *
 *     cc -O3 -o rate rate.c && ./rate LOW BEST HIGH REFERENCE < temperatures
 */
#define _POSIX_C_SOURCE 199309L
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { MOST = 1 << 16, ROUNDS = 2000 };

static double celsius[MOST], rates[MOST];

static inline double cardinal(double t, double low, double best, double high) {
    double below = (best - low) * ((best - low) * (t - best) - (best - high) * (best + low - 2 * t));
    return (t - high) * (t - low) * (t - low) / below;
}

__attribute__((noinline)) static void fill(int n, double low, double best, double high, double scale) {
    for (int i = 0; i < n; i++) {
        double t = celsius[i];
        double rate = scale * cardinal(t, low, best, high);
        rates[i] = t > low && t < high ? rate : 0;
    }
}

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e9 * (double)t.tv_sec + (double)t.tv_nsec;
}

int main(int argc, char **argv) {
    if (argc != 5) {
        return 2;
    }
    double low = atof(argv[1]), best = atof(argv[2]), high = atof(argv[3]), reference = atof(argv[4]);
    int n = 0;
    while (n < MOST && scanf("%lf", &celsius[n]) == 1) {
        n++;
    }
    double scale = 1 / cardinal(reference, low, best, high), least = 1e300, sum = 0;
    for (int round = 0; round < ROUNDS; round++) {
        double begin = now();
        fill(n, low, best, high, scale);
        double each = (now() - begin) / n;
        least = each < least ? each : least;
    }
    for (int i = 0; i < n; i++) {
        sum += rates[i];
    }
    printf("%.17g %.17g\n", least, sum);
    return 0;
}
