# The files of a package bear the commit's time, so that one commit gives one package, byte by byte (reproducible-builds.org).
if(NOT DEFINED ENV{SOURCE_DATE_EPOCH})
  execute_process(COMMAND git log -1 --format=%ct WORKING_DIRECTORY ${CMAKE_CURRENT_LIST_DIR} OUTPUT_VARIABLE at
                  OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
  if(at)
    set(ENV{SOURCE_DATE_EPOCH} ${at})
  endif()
endif()
# The folders of a package have the rights that the packer's umask leaves: with a stricter one nobody but root could open them.
execute_process(COMMAND sh -c umask OUTPUT_VARIABLE umask OUTPUT_STRIP_TRAILING_WHITESPACE)
if(NOT umask STREQUAL "0022")
  message(FATAL_ERROR "With the umask ${umask} the package's folders would have other rights than a package's have: say 'umask 022', and pack again.")
endif()
