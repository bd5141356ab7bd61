// Times FFTW's transforms on request: the same requests and answers as
// tacho/internal/speed, without the spectrogram. Its plans are measured ones
// that keep their input.
//
//	cc -O2 fftw.c -lfftw3_threads -lfftw3 -lpthread -lm

#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

static double now(int cores) {
	struct timespec t;
	clock_gettime(cores == 1 ? CLOCK_PROCESS_CPUTIME_ID : CLOCK_MONOTONIC, &t);
	return 1e9 * t.tv_sec + t.tv_nsec;
}

enum { jobs = 256, frames = 512 };

static struct job {
	char task[32];
	int n, cores;
	fftw_plan plan;
} known[jobs];

static fftw_plan plan(const char *task, int n, int cores) {
	int count = !strcmp(task, "frames") ? frames : !strcmp(task, "real") ? 1 : 0;
	if (count == 0)
		return NULL;
	double *x = fftw_malloc(sizeof *x * n * count);
	fftw_complex *y = fftw_malloc(sizeof *y * (n / 2 + 1) * count);
	fftw_plan_with_nthreads(cores);
	fftw_plan p = fftw_plan_many_dft_r2c(1, &n, count, x, NULL, 1, n, y, NULL, 1, n / 2 + 1,
		FFTW_MEASURE | FFTW_PRESERVE_INPUT);
	for (int i = 0; i < n * count; i++)
		x[i] = 0.6 * sin(0.1 * i) + 0.3 * sin(0.2 * i);
	return p;
}

int main(void) {
	char task[32];
	int n, cores, reps, used = 0;
	fftw_init_threads();
	while (scanf("%31s %d %d %d", task, &n, &cores, &reps) == 4) {
		int i = 0;
		while (i < used && (strcmp(known[i].task, task) || known[i].n != n || known[i].cores != cores))
			i++;
		if (i == used) {
			if (used == jobs)
				return 2;
			strcpy(known[i].task, task);
			known[i].n = n;
			known[i].cores = cores;
			known[i].plan = plan(task, n, cores);
			used++;
		}
		if (known[i].plan) {
			fftw_execute(known[i].plan); // fill the caches
			double start = now(cores);
			for (int r = 0; r < reps; r++)
				fftw_execute(known[i].plan);
			printf("%f\n", (now(cores) - start) / reps);
		} else {
			puts("none");
		}
		fflush(stdout);
	}
	return 0;
}
