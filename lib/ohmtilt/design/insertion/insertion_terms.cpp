#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/insertion/insertion_terms.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

/// Powers that are multiplied before a logarithm is taken of them all.
constexpr std::size_t factors = 8;
constexpr std::size_t lanes = 8;

inline double part_of_ratio(const ResistiveTwoPort& pad, const double* a, const double* b,
                            const double* c, const double* d, std::size_t i) {
  return pad.a * a[i] + pad.b_ohm * b[i] + pad.c_siemens * c[i] + pad.d * d[i];
}

OHMTILT_WIDE
void powers_over_frequency(const ResistiveTwoPort& pad, const double* const* terms,
                           std::size_t count, double* powers) {
  for (std::size_t i = 0; i < count; ++i) {
    const double re = part_of_ratio(pad, terms[0], terms[1], terms[2], terms[3], i);
    const double im = part_of_ratio(pad, terms[4], terms[5], terms[6], terms[7], i);
    powers[i] = re * re + im * im;
  }
}

/// term: the eight of one frequency. Multiplies into products.
OHMTILT_WIDE
void multiply_powers(const TwoPortBlock& pads, const double* term, double* products) {
  for (std::size_t i = 0; i < TwoPortBlock::size; ++i) {
    const double re = pads.a[i] * term[0] + pads.b_ohm[i] * term[1] + pads.c_siemens[i] * term[2] +
                      pads.d[i] * term[3];
    const double im = pads.a[i] * term[4] + pads.b_ohm[i] * term[5] + pads.c_siemens[i] * term[6] +
                      pads.d[i] * term[7];
    products[i] *= re * re + im * im;
  }
}

/// The sum of the logarithms of count values.
double sum_of_logarithms(const double* values, std::size_t count) {
  double sum = 0;
  std::size_t i = 0;
  for (; i + factors * lanes <= count; i += factors * lanes) {
    std::array<double, lanes> products;
    products.fill(1);
    for (std::size_t factor = 0; factor < factors; ++factor)
      for (std::size_t lane = 0; lane < lanes; ++lane)
        products[lane] *= values[i + factor * lanes + lane];
    for (const double product : products) sum += std::log(product);
  }
  while (i < count) {
    double product = 1;
    for (const std::size_t end = std::min(i + factors, count); i < end; ++i) product *= values[i];
    sum += std::log(product);
  }
  return sum;
}

}  // namespace

InsertionTerms::InsertionTerms(const ComplexArray& source_ohm, const ComplexArray& load_ohm) {
  const ComplexArray b = (load_ohm + source_ohm).inverse();
  const ComplexArray terms[] = {load_ohm * b, b, source_ohm * load_ohm * b, source_ohm * b};
  for (std::size_t k = 0; k < 4; ++k)
    for (const Complex value : terms[k]) {
      terms_[k].push_back(value.real());
      terms_[k + 4].push_back(value.imag());
    }
}

void InsertionTerms::fill_powers(const ResistiveTwoPort& pad, double* powers) const {
  std::array<const double*, 8> terms;
  for (std::size_t k = 0; k < 8; ++k) terms[k] = terms_[k].data();
  powers_over_frequency(pad, terms.data(), size(), powers);
}

Array InsertionTerms::powers(const ResistiveTwoPort& pad) const {
  Array result(static_cast<Eigen::Index>(size()));
  fill_powers(pad, result.data());
  return result;
}

double InsertionTerms::mean_power(const ResistiveTwoPort& pad) const {
  if (size() == 1) {
    double only = 0;
    fill_powers(pad, &only);
    return only;
  }
  const Array all = powers(pad);
  const Eigen::Index count = all.size();
  const double ends = 0.5 * std::log(all[0] * all[count - 1]);
  const double inside = sum_of_logarithms(all.data() + 1, static_cast<std::size_t>(count - 2));
  return std::exp((ends + inside) / double(count - 1));
}

void InsertionTerms::mean_powers(const TwoPortBlock& pads, double* powers) const {
  const auto multiply = [&](std::size_t frequency, double* products) {
    std::array<double, 8> term;
    for (std::size_t k = 0; k < 8; ++k) term[k] = terms_[k][frequency];
    multiply_powers(pads, term.data(), products);
  };
  constexpr std::size_t pad_count = TwoPortBlock::size;
  if (size() == 1) {
    std::fill_n(powers, pad_count, 1.0);
    return multiply(0, powers);
  }
  std::array<double, pad_count> sums, products;
  products.fill(1);
  multiply(0, products.data());
  multiply(size() - 1, products.data());
  for (std::size_t k = 0; k < pad_count; ++k) sums[k] = 0.5 * std::log(products[k]);
  for (std::size_t i = 1; i + 1 < size();) {
    products.fill(1);
    for (const std::size_t end = std::min(i + factors, size() - 1); i < end; ++i)
      multiply(i, products.data());
    for (std::size_t k = 0; k < pad_count; ++k) sums[k] += std::log(products[k]);
  }
  for (std::size_t k = 0; k < pad_count; ++k) powers[k] = std::exp(sums[k] / double(size() - 1));
}

}  // namespace ohmtilt
