#include <ohmtilt/design/flatten/direct_search.h>

#include <utility>

namespace ohmtilt {
namespace {

using Function = std::function<double(const std::vector<double>&)>;

/// Tries each coordinate both ways and keeps what is better.
void explore(const Function& f, double step, DirectSearchResult& at) {
  for (double& coordinate : at.x) {
    const double before = coordinate;
    for (const double sign : {1.0, -1.0}) {
      coordinate = before + sign * step;
      const double value = f(at.x);
      if (value < at.value) {
        at.value = value;
        break;
      }
      coordinate = before;
    }
  }
}

}  // namespace

DirectSearchResult direct_search(const Function& f, std::vector<double> x,
                                 const DirectSearchOptions& options) {
  const double value = f(x);
  DirectSearchResult best{std::move(x), value};
  std::vector<double> last = best.x;
  double step = options.first_step;
  for (int round = 0; round < options.most_rounds && step >= options.last_step; ++round) {
    // On in the direction that was good, and around there; then around the best point.
    DirectSearchResult ahead = best;
    for (std::size_t i = 0; i < last.size(); ++i) ahead.x[i] += best.x[i] - last[i];
    ahead.value = f(ahead.x);
    explore(f, step, ahead);
    if (!(ahead.value < best.value)) {
      ahead = best;
      explore(f, step, ahead);
    }
    last = best.x;
    if (ahead.value < best.value)
      best = ahead;
    else
      step /= 2;
  }
  return best;
}

}  // namespace ohmtilt
