# The Debian package: cpack -G DEB --config build/release/CPackConfig.cmake
set(CPACK_PACKAGE_NAME ohmtilt)
set(CPACK_PACKAGE_CONTACT "the ohmtilt project <ohmtilt@localhost>")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "${PROJECT_DESCRIPTION}")
set(CPACK_PACKAGE_DESCRIPTION "From the impedance of an earphone and the output
impedance of its source ohmtilt computes how the response changes, and with it
damping, headroom, hiss and crosstalk; it designs attenuation pads and makes
impedance curves of recordings.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
# Program, manual, completions and demo files; the library stays with who builds against it.
set(CPACK_COMPONENTS_ALL runtime)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_COMPONENTS_GROUPING ALL_COMPONENTS_IN_ONE)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION sound)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS "gnuplot-nox, fonts-dejavu-core, fontconfig")
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS
  OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_VERBATIM_VARIABLES ON)
include(CPack)
