# Installs the program, the library with its headers, and what find_package(ohmtilt) needs.
include(CMakePackageConfigHelpers)
set(package_dir ${CMAKE_INSTALL_LIBDIR}/cmake/ohmtilt)
install(TARGETS ohmtilt EXPORT ohmtiltTargets)
install(DIRECTORY lib/ohmtilt DESTINATION ${CMAKE_INSTALL_INCLUDEDIR} FILES_MATCHING PATTERN "*.h")
install(TARGETS ohmtilt_program)
install(DIRECTORY impedance-curves DESTINATION ${CMAKE_INSTALL_DATADIR}/ohmtilt)
install(DIRECTORY ${PROJECT_BINARY_DIR}/share/ DESTINATION ${CMAKE_INSTALL_DATADIR})
install(FILES README.md CHANGELOG.md LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(EXPORT ohmtiltTargets NAMESPACE ohmtilt:: DESTINATION ${package_dir})
configure_package_config_file(lib/ohmtiltConfig.cmake.in ${PROJECT_BINARY_DIR}/ohmtiltConfig.cmake
                              INSTALL_DESTINATION ${package_dir})
write_basic_package_version_file(${PROJECT_BINARY_DIR}/ohmtiltConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/ohmtiltConfig.cmake ${PROJECT_BINARY_DIR}/ohmtiltConfigVersion.cmake
        DESTINATION ${package_dir})
