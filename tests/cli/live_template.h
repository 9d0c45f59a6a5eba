#pragma once
// A stand-in for the page that emscripten builds: its marks, and nothing that runs.
#include "tests/support.h"

namespace ohmtilt::test {

inline std::string live_template(const std::string& version = project_version()) {
  return "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\">"
         "<meta name=\"generator\" content=\"ohmtilt " +
         version +
         "\"><meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; script-src "
         "'sha256-A' 'wasm-unsafe-eval'; style-src 'sha256-B'; img-src blob:\">"
         "<title><!--ohmtilt:title--></title><style>p{}</style></head><body>"
         "<h1><!--ohmtilt:title--></h1><main><!--ohmtilt:start--></main><footer>Licences</footer>"
         "<script type=\"application/json\" id=\"given\">"
         "<!--ohmtilt:given--></script></body></html>\n";
}

}  // namespace ohmtilt::test
