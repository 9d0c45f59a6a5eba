#pragma once
#include <string>

#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// An earphone's |Z| without and with a compensation network, and below it the span of the
/// deviation over source resistance. Text comes from files and is drawn as it stands.
struct FlattenFigure {
  std::string earphone_title, conclusion, caption;
  Array frequency_hz, before_ohm, after_ohm;
  double least_ohm = 0;  ///< what the terminals must not fall below
  Array source_ohm, before_db, after_db;
  double limit_db = 0;
};

/// The figure as a value, for tests and reports.
Sheet sheet_of(const FlattenFigure& figure);

}  // namespace ohmtilt::plots
