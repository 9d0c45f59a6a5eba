# The library and the words of the commands, compiled to WebAssembly for the live page. Included by the project's own
# CMakeLists.txt where the compiler is emscripten; what the ordinary build finds as packages are headers here.
set(headers ${PROJECT_BINARY_DIR}/headers)
file(MAKE_DIRECTORY ${headers})
foreach(folder IN ITEMS eigen3/Eigen eigen3/unsupported boost fmt toml++)
  if(NOT EXISTS /usr/include/${folder})
    message(FATAL_ERROR "/usr/include/${folder} is missing: sh tools/check-live installs what the live page needs")
  endif()
  get_filename_component(name ${folder} NAME)
  file(CREATE_LINK /usr/include/${folder} ${headers}/${name} SYMBOLIC)
endforeach()

file(GLOB_RECURSE wasm_sources CONFIGURE_DEPENDS lib/*.cpp)
# What the page does not ask is not compiled: half of the time. All of it but sound files and output files would be.
list(FILTER wasm_sources EXCLUDE REGEX
  "/(design|analysis/tolerance)/|/analysis/survey|/base/trust_region|/text/(output_file|temporary_name)|/measure/(wav|read_recording|read_meter|meter_columns|readings|source_impedance)")
add_library(ohmtilt STATIC ${wasm_sources})
target_include_directories(ohmtilt PUBLIC lib)
target_include_directories(ohmtilt SYSTEM PUBLIC ${headers})
target_compile_definitions(ohmtilt PUBLIC FMT_HEADER_ONLY OHMTILT_VERSION="${PROJECT_VERSION}")
target_compile_options(ohmtilt PUBLIC -fwasm-exceptions -msimd128 -ffp-contract=off -Wall -Wextra
  # Lines of a file are counted in 32 bits; no file here has 2^31.
  -Wno-c++11-narrowing)
unite(ohmtilt 12 ${lib_apart})
unite_decompositions()

# The words of the commands; what of their sources is not reached (options, JSON, drawing) is not linked.
add_executable(ohmtilt_live tools/live/live.cpp tools/live/given_files.cpp tools/live/reply.cpp
  tools/live/source_spec.cpp tools/live/measuring.cpp plots/names.cpp plots/text.cpp
  tools/ohmtilt/program/wording.cpp tools/ohmtilt/program/chain_input.cpp
  tools/ohmtilt/commands/deviation.cpp tools/ohmtilt/commands/damping.cpp
  tools/ohmtilt/commands/headroom.cpp tools/ohmtilt/commands/hiss.cpp)
target_include_directories(ohmtilt_live PRIVATE ${PROJECT_SOURCE_DIR})
target_link_libraries(ohmtilt_live PRIVATE ohmtilt)
target_compile_options(ohmtilt_live PRIVATE -ffunction-sections -fdata-sections)
set_target_properties(ohmtilt_live PROPERTIES SUFFIX .wasm)
target_link_options(ohmtilt_live PRIVATE -fwasm-exceptions -sSTANDALONE_WASM --no-entry
  -sALLOW_MEMORY_GROWTH=1 -sTOTAL_STACK=1048576 -sMALLOC=dlmalloc)

# The page without its data; what it is made of are the packages of package-lock.json (npm ci).
set(page ${PROJECT_SOURCE_DIR}/tools/live/page)
file(GLOB page_sources CONFIGURE_DEPENDS ${page}/source/* ${page}/build.mjs ${page}/package-lock.json)
find_program(NODE node REQUIRED)
add_custom_command(OUTPUT ${PROJECT_BINARY_DIR}/live.html
  COMMAND ${NODE} ${page}/build.mjs $<TARGET_FILE:ohmtilt_live> ${PROJECT_VERSION} ${PROJECT_BINARY_DIR}/live.html
  DEPENDS ohmtilt_live ${page_sources} VERBATIM)
add_custom_target(live_page ALL DEPENDS ${PROJECT_BINARY_DIR}/live.html)
