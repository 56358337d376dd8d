# Fails at the first command that fails, or if the outside program does not print the standard's limit.
file(REMOVE_RECURSE ${WORK})
if(SANITIZE)
  set(flags "-DCMAKE_CXX_FLAGS=-fsanitize=address,undefined")
endif()
execute_process(COMMAND ${CMAKE_COMMAND} --install ${BUILD_DIR} --prefix ${WORK}/prefix OUTPUT_QUIET COMMAND_ERROR_IS_FATAL ANY)
execute_process(COMMAND ${CMAKE_COMMAND} -S ${OUTSIDE} -B ${WORK}/build -DCMAKE_PREFIX_PATH=${WORK}/prefix
                        -DCMAKE_CXX_COMPILER=${COMPILER} ${flags}
                OUTPUT_QUIET COMMAND_ERROR_IS_FATAL ANY)
execute_process(COMMAND ${CMAKE_COMMAND} --build ${WORK}/build OUTPUT_QUIET COMMAND_ERROR_IS_FATAL ANY)
execute_process(COMMAND ${WORK}/build/outside OUTPUT_VARIABLE printed COMMAND_ERROR_IS_FATAL ANY)
# ISO 21940-11: 16 mm/s * 14.6 kg / (3200 rpm) = 697.1 g*mm.
if(NOT printed MATCHES "^697\\.1 ")
  message(FATAL_ERROR "the outside program printed '${printed}'")
endif()
execute_process(COMMAND bash -c "source ${WORK}/prefix/share/bash-completion/completions/counterspot && \
COMP_WORDS=(counterspot so) COMP_CWORD=1 && _counterspot && echo \${COMPREPLY[0]}" OUTPUT_VARIABLE completed COMMAND_ERROR_IS_FATAL ANY)
if(NOT completed STREQUAL "solve\n")
  message(FATAL_ERROR "completing 'so' gave '${completed}'")
endif()
if(PYTHON)
  execute_process(COMMAND ${CMAKE_COMMAND} -E env PYTHONPATH=${WORK}/prefix/${PYTHON_FOLDER}
                          ${PYTHON} -c "import counterspot; print(counterspot.version())"
                  OUTPUT_VARIABLE said COMMAND_ERROR_IS_FATAL ANY)
  if(NOT said MATCHES "^[0-9]+\\.[0-9]+\\.[0-9]+\n$")
    message(FATAL_ERROR "the package for Python said '${said}'")
  endif()
endif()
