# The Debian package: cpack -G DEB --config build/release/CPackConfig.cmake
set(CPACK_PACKAGE_NAME ohmtilt)
set(CPACK_PACKAGE_CONTACT "the ohmtilt project <ohmtilt@ohmtilt.invalid>")
set(CPACK_DEBIAN_PACKAGE_MAINTAINER "${CPACK_PACKAGE_CONTACT}")
# Each Debian has its own libraries, so its own package: 0.2.0-1+deb12.
set(release 1)
if(EXISTS /etc/os-release)
  file(STRINGS /etc/os-release system REGEX "^(ID|VERSION_ID)=")
  if("ID=debian" IN_LIST system AND system MATCHES "VERSION_ID=\"([0-9]+)\"")
    set(release 1+deb${CMAKE_MATCH_1})
  endif()
endif()
set(CPACK_DEBIAN_PACKAGE_RELEASE ${release})
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
if(OHMTILT_PYTHON) # the module is for the Python that it was built with
  math(EXPR python_next "${Python_VERSION_MINOR} + 1")
  set(CPACK_DEBIAN_PACKAGE_DEPENDS "python3 (>= 3.${Python_VERSION_MINOR}), python3 (<< 3.${python_next})")
  string(APPEND CPACK_DEBIAN_PACKAGE_RECOMMENDS ", python3-numpy")
endif()
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS
  OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_VERBATIM_VARIABLES ON)
include(CPack)
# What Debian asks of every package: its history in Debian's form (ours is CHANGELOG.md, beside it as changelog.gz).
execute_process(COMMAND date -Rud "${OHMTILT_DATE} 12:00" OUTPUT_VARIABLE OHMTILT_DATE_RFC OUTPUT_STRIP_TRAILING_WHITESPACE
  COMMAND_ERROR_IS_FATAL ANY)
file(WRITE ${PROJECT_BINARY_DIR}/changelog.Debian "ohmtilt (${PROJECT_VERSION}-${release}) unstable; urgency=low

  * Version ${PROJECT_VERSION}; what is new stands in changelog.gz.

 -- ${CPACK_PACKAGE_CONTACT}  ${OHMTILT_DATE_RFC}
")
install(CODE "execute_process(COMMAND gzip -9nkf ${PROJECT_BINARY_DIR}/changelog.Debian COMMAND_ERROR_IS_FATAL ANY)"
  COMPONENT runtime)
install(FILES ${PROJECT_BINARY_DIR}/changelog.Debian.gz DESTINATION ${CMAKE_INSTALL_DATADIR}/doc/ohmtilt COMPONENT runtime)
