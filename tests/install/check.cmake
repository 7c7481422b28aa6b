# cmake -DBUILD=… -DSOURCE=… -DCXX=… -DFLAGS=… -DEXAMPLE=… -P check.cmake: installs from BUILD into a folder of its own, builds an
# example against that with find_package alone, and runs it on a demo job beside the one that the build made.
set(work ${BUILD}/install-check)
file(REMOVE_RECURSE ${work})
function(must)
  execute_process(COMMAND ${ARGV} RESULT_VARIABLE failed OUTPUT_VARIABLE out ERROR_VARIABLE out)
  if(failed)
    message(FATAL_ERROR "${ARGV}: ${failed}\n${out}")
  endif()
  set(out "${out}" PARENT_SCOPE)
endfunction()
must(${CMAKE_COMMAND} --install ${BUILD} --prefix ${work}/prefix)
must(${CMAKE_COMMAND} -S ${SOURCE}/tests/install -B ${work}/build -DCMAKE_PREFIX_PATH=${work}/prefix
  -DCMAKE_CXX_COMPILER=${CXX} -DCMAKE_CXX_FLAGS=${FLAGS} -DCMAKE_BUILD_TYPE=Debug)
must(${CMAKE_COMMAND} --build ${work}/build)
must(${EXAMPLE} ${SOURCE}/scans/new-tool.toml)
set(expected "${out}")
must(${work}/build/consumer ${SOURCE}/scans/new-tool.toml)
if(NOT out STREQUAL expected OR NOT out MATCHES "gap [0-9.]+ mm, U")
  message(FATAL_ERROR "the consumer says: ${out}the example of the build: ${expected}")
endif()
# The program in place, its manual, and its completions.
must(${work}/prefix/bin/gapfront --version)
foreach(file bin/gapfront share/man/man1/gapfront-inspect.1.gz share/man/man7/gapfront-units.7.gz
    share/bash-completion/completions/gapfront share/zsh/vendor-completions/_gapfront
    share/fish/vendor_completions.d/gapfront.fish share/gapfront/demo/new-tool.toml include/gapfront/gapfront.hpp)
  if(NOT EXISTS ${work}/prefix/${file})
    message(FATAL_ERROR "not installed: ${file}")
  endif()
endforeach()
file(REMOVE_RECURSE ${work})
