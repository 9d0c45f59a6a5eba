# Installs the program with its manual, completions and demo files (component runtime), and the
# library with its headers and what find_package(ohmtilt) needs (component development).
include(CMakePackageConfigHelpers)
set(package_dir ${CMAKE_INSTALL_LIBDIR}/cmake/ohmtilt)
install(TARGETS ohmtilt EXPORT ohmtiltTargets COMPONENT development)
# Of the headers, those that ohmtilt.h includes and what these include in turn.
set(public_headers ohmtilt/ohmtilt.h)
set(unread ${public_headers})
while(unread)
  list(POP_FRONT unread header)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS lib/${header})
  file(STRINGS lib/${header} included REGEX "^#include <ohmtilt/")
  list(TRANSFORM included REPLACE "#include <([^>]+)>.*" "\\1")
  list(REMOVE_ITEM included "" ${public_headers})
  list(APPEND public_headers ${included})
  list(APPEND unread ${included})
endwhile()
foreach(header ${public_headers})
  get_filename_component(folder ${header} DIRECTORY)
  install(FILES lib/${header} DESTINATION ${CMAKE_INSTALL_INCLUDEDIR}/${folder} COMPONENT development)
endforeach()
# For builds without CMake. A static library does not say what it needs, so its file does.
if(BUILD_SHARED_LIBS)
  set(ohmtilt_pc_private .private)
endif()
file(RELATIVE_PATH ohmtilt_pc_up /${CMAKE_INSTALL_LIBDIR}/pkgconfig /)
configure_file(lib/ohmtilt.pc.in ${PROJECT_BINARY_DIR}/ohmtilt.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/ohmtilt.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig COMPONENT development)
install(EXPORT ohmtiltTargets NAMESPACE ohmtilt:: DESTINATION ${package_dir} COMPONENT development)
configure_package_config_file(lib/ohmtiltConfig.cmake.in ${PROJECT_BINARY_DIR}/ohmtiltConfig.cmake
                              INSTALL_DESTINATION ${package_dir})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/ohmtiltConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/ohmtiltConfig.cmake ${PROJECT_BINARY_DIR}/ohmtiltConfigVersion.cmake
        DESTINATION ${package_dir} COMPONENT development)
if(NOT OHMTILT_PROGRAM)
  return()
endif()
install(TARGETS ohmtilt_program COMPONENT runtime)
install(DIRECTORY impedance-curves DESTINATION ${CMAKE_INSTALL_DATADIR}/ohmtilt COMPONENT runtime)
install(DIRECTORY ${PROJECT_BINARY_DIR}/share/ DESTINATION ${CMAKE_INSTALL_DATADIR} COMPONENT runtime)
# Manual pages are installed compressed, as everywhere on Debian.
install(CODE [[
  file(GLOB pages "$ENV{DESTDIR}${CMAKE_INSTALL_PREFIX}/share/man/man1/ohmtilt*.1")
  execute_process(COMMAND gzip -9nf ${pages} COMMAND_ERROR_IS_FATAL ANY)
]] COMPONENT runtime)
# So is what changed, under the name that Debian gives it.
install(FILES CHANGELOG.md DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/ohmtilt RENAME changelog COMPONENT runtime)
install(CODE [[
  execute_process(COMMAND gzip -9nf "$ENV{DESTDIR}${CMAKE_INSTALL_PREFIX}/share/doc/ohmtilt/changelog" COMMAND_ERROR_IS_FATAL ANY)
]] COMPONENT runtime)
install(FILES LICENSE DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/ohmtilt RENAME copyright COMPONENT runtime)
