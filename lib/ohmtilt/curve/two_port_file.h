#pragma once
#include <filesystem>
#include <string>

#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/curve/two_port.h>

namespace ohmtilt {

/// Reads a two-port file of Touchstone version 1.0, 1.1 or 2.0: S, Y or Z in RI, MA or DB, the
/// references of both ports, in either order of data; of two points or more. Z and Y become S with
/// the file's references. What is active or one-way brings a warning (two_port_warnings). Noise
/// data are left out, with a warning. Throws InputError with line, column and remedy.
/// Formula source: Touchstone file format 1.1 and 2.0, IBIS Open Forum.
Read<TwoPortData> read_two_port(const std::filesystem::path& file);
/// The same from the bytes of a file; name stands in messages and gives the title's fallback.
Read<TwoPortData> parse_two_port(std::string bytes, const std::string& name);

/// The text of a two-port file, S as real and imaginary part over hertz, which reads back bit for
/// bit. version: 1 (of one reference only) or 2. Throws InputError for what that version does not
/// have.
std::string two_port_text(const TwoPortData& data, int version = 1);

}  // namespace ohmtilt
