#include <ohmtilt/ohmtilt.h>
#include <cstdio>
int main(int, char** arguments) {
  const auto earphone = ohmtilt::read_earphone(arguments[1]);
  const auto result = ohmtilt::compare_sources(earphone, ohmtilt::resistive_source(0.3),
                                               {ohmtilt::resistive_source(6)}, {});
  const auto sweep = ohmtilt::wav_bytes(ohmtilt::stimulus({}));  // needs libsndfile
  if (sweep.compare(0, 4, "RIFF") != 0) return 1;
  std::printf("%.2f dB\n", result.cases[0].deviation.span_db);
}
