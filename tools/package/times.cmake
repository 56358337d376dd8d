# The files of a package bear the commit's time, so that one commit gives one package, byte by byte (reproducible-builds.org).
if(NOT DEFINED ENV{SOURCE_DATE_EPOCH})
  execute_process(COMMAND git log -1 --format=%ct WORKING_DIRECTORY ${CMAKE_CURRENT_LIST_DIR} OUTPUT_VARIABLE at
                  OUTPUT_STRIP_TRAILING_WHITESPACE ERROR_QUIET)
  if(at)
    set(ENV{SOURCE_DATE_EPOCH} ${at})
  endif()
endif()
