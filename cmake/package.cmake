# SPDX-License-Identifier: Apache-2.0
# What is installed where, and the Debian package of it: cpack --config build/release/CPackConfig.cmake
include(GNUInstallDirs)
set(built ${PROJECT_BINARY_DIR}/package)
set(doc share/doc/brinegate)
file(MAKE_DIRECTORY ${built})

# The manual page and completion are told by the program itself, so that they cannot be of another.
function(brinegate_told file target)
  add_custom_command(OUTPUT ${built}/${file}
    COMMAND ${CMAKE_CROSSCOMPILING_EMULATOR} $<TARGET_FILE:${target}> ${ARGN} > ${built}/${file}
    DEPENDS ${target} VERBATIM)
  set_property(GLOBAL APPEND PROPERTY brinegate_told ${built}/${file})
endfunction()
brinegate_told(brinegate.1 brinegate help --manual)
brinegate_told(brinegate.bash brinegate help --completion)

# Debian wants these compressed, and without a date in them.
function(brinegate_compressed file from)
  add_custom_command(OUTPUT ${built}/${file}
    COMMAND gzip -9 -n -c ${from} > ${built}/${file} DEPENDS ${from} VERBATIM)
  set_property(GLOBAL APPEND PROPERTY brinegate_told ${built}/${file})
endfunction()
brinegate_compressed(brinegate.1.gz ${built}/brinegate.1)
brinegate_compressed(brinegate-sim.1.gz ${PROJECT_SOURCE_DIR}/sim/brinegate-sim.1)
brinegate_compressed(changelog.gz ${PROJECT_SOURCE_DIR}/daemon/debian/changelog)
get_property(told GLOBAL PROPERTY brinegate_told)
add_custom_target(package_files ALL DEPENDS ${told})

install(TARGETS brinegate brinegate-sim)
install(FILES ${built}/brinegate.1.gz ${built}/brinegate-sim.1.gz DESTINATION share/man/man1)
install(FILES ${built}/brinegate.bash DESTINATION share/bash-completion/completions RENAME brinegate)
install(FILES ${built}/changelog.gz daemon/debian/copyright README.md HAZARDS.md SECURITY.md
        DESTINATION ${doc})
install(FILES config/README.md DESTINATION ${doc} RENAME config.md)
install(FILES config/schema.json DESTINATION share/brinegate)
install(FILES config/example.toml config/mosquitto.acl.example daemon/60-brinegate-serial.rules
        DESTINATION ${doc}/examples)
install(DIRECTORY config/examples/ DESTINATION ${doc}/examples)
install(FILES daemon/brinegate.service DESTINATION lib/systemd/system)
install(FILES daemon/debian/brinegate.sysusers DESTINATION lib/sysusers.d RENAME brinegate.conf)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_PACKAGE_CONTACT "The Brinegate authors <brinegate@example.org>")
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION misc)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS "init-system-helpers (>= 1.52), systemd")
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "mosquitto, bash-completion")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY
    "proves batches of artificial sea water, guards the water-change pump")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"Brinegate reads conductivity, temperature and level probes over Modbus and
MQTT, follows a batch of artificial sea water while the salt dissolves, and
keeps the water-change pump blocked until the batch is proven to be what it
should be, and whenever anything is in doubt.
.
It is not a certified safety device.")
set(scripts ${PROJECT_SOURCE_DIR}/daemon/debian)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${scripts}/postinst ${scripts}/prerm ${scripts}/postrm)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
include(CPack)
