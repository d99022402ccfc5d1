# Checks of the tree itself. To be sourced by tests/run.sh from the project's folder.
#
# A check prints what is wrong and returns 1, or says why it cannot be made and returns 77.

n_passed=0 n_failed=0 n_skipped=0

# count PASSED FAILED SKIPPED
count() {
    n_passed=$((n_passed + $1))
    n_failed=$((n_failed + $2))
    n_skipped=$((n_skipped + $3))
}

# The closing line; its status is the script's.
total() {
    echo "$n_passed passed, $n_failed failed, $n_skipped skipped"
    ((n_failed == 0))
}

# check NAME FUNCTION ARGUMENT...
check() {
    local name=$1 status=0 told
    shift
    told=$("$@" 2>&1) || status=$?
    case $status in
    0) count 1 0 0 && echo "ok: $name" ;;
    77) count 0 0 1 && echo "skipped: $name: $told" ;;
    *) count 0 1 0 && printf 'FAILED: %s\n%s\n' "$name" "$told" ;;
    esac
}

# Each public header compiles alone, as a user's first include.
check_headers() {
    local header bad=0 flags
    read -ra flags <<<"$(pkg-config --cflags glib-2.0)"
    for header in include/lookfall/*.h; do
        gcc -std=c11 -Wall -Wextra -Werror -pedantic -fsyntax-only -Iinclude "${flags[@]}" -x c "$header" || bad=1
        g++ -std=c++17 -Wall -Wextra -Werror -fsyntax-only -Iinclude "${flags[@]}" -x c++ "$header" || bad=1
    done
    return $bad
}

# The library shows what the public headers declare, all of it and nothing else.
check_symbols() {
    local library=$1/src/liblookfall.so declared shown
    # gcc -E leaves the attribute that LF_API stands for in front of each declaration
    declared=$(gcc -E -P -Iinclude $(pkg-config --cflags glib-2.0) include/lookfall/lookfall.h |
        tr '\n' ' ' | grep -oE '__attribute__\(\(visibility\("default"\)\)\)[^;]*;' |
        grep -oE '\blf_[a-z0-9_]+ *\(' | tr -d ' (' | sort -u)
    shown=$(nm -D --defined-only "$library" | awk '{print $3}' | sort -u)
    [[ -n $declared ]] || { echo "no declaration was found"; return 1; }
    diff <(echo "$declared") <(echo "$shown") >/dev/null && return 0
    echo "< declared and not there, > there and not declared:"
    diff <(echo "$declared") <(echo "$shown") | grep '^[<>]'
    return 1
}

check_format() {
    local tool
    tool=$(command -v clang-format-14 || command -v clang-format) ||
        { echo "clang-format 14 is not installed"; return 77; }
    "$tool" --version | grep -q 'version 14\.' ||
        { echo "clang-format is not version 14, which formats otherwise"; return 77; }
    tracked '*.c' '*.h' | xargs -d '\n' "$tool" -n -Werror 2>&1 | grep 'error:' | cut -d: -f1 | sort | uniq -c |
        sed 's/^ *\([0-9]*\) /\1 places in /' | head -n 20
    return "$((PIPESTATUS[1] != 0))"
}

# Files of the tree: those git knows, or all but builds where this is no clone.
tracked() {
    git ls-files -- "$@" 2>/dev/null && return 0
    local pattern names=()
    for pattern in "$@"; do names+=(-o -name "$pattern"); done
    find . -path './build*' -prune -o -path ./demo/out -prune -o -type f \( "${names[@]:1}" \) -print
}

# A path that exists on the machine of one developer only.
check_paths() {
    local found
    found=$(tracked '*' | grep -v -E '\.(png|jpg|mp4|gz)$' |
        xargs -d '\n' grep -nIE '(^|[^[:alnum:]_.$}])/(root|home|work|tmp)/' || true)
    [[ -z $found ]] && return 0
    echo "$found" | head -n 20
    return 1
}

# One owner per dependency: no other folder includes its headers.
check_owners() {
    local bad=0 owner pattern found
    while read -r owner pattern; do
        found=$(tracked 'src/*' 'shim/*' 'include/*' | grep -v "^$owner/" |
            xargs -d '\n' grep -nE "#include <$pattern" || true)
        [[ -z $found ]] && continue
        echo "only $owner may include this:"
        echo "$found"
        bad=1
    done <<'OWNERS'
src/video libav|libsw
src/study sqlite3
src/draw cairo|pango
src/desk libsoup
src/look gsl/
shim opencv2
OWNERS
    return $bad
}

# A user's ten lines against the installed library, by pkg-config and by CMake, as C and as C++.
check_install() {
    local build=$1 folder
    folder=$(mktemp -d)
    # shellcheck disable=SC2064
    trap "rm -rf '$folder'" RETURN
    cmake --install "$build" --prefix "$folder/prefix" >"$folder/log" || { cat "$folder/log"; return 1; }
    cp tests/install/* "$folder"
    (
        set -e
        cd "$folder"
        pc=$(dirname "$(find prefix -name lookfall.pc)")
        export PKG_CONFIG_PATH=$PWD/$pc
        version=$(pkg-config --modversion lookfall)
        libs=$(pkg-config --variable=libdir lookfall)
        gcc -std=c11 -Wall -Werror user.c -o by_pkg_config $(pkg-config --cflags --libs lookfall) -lm
        LD_LIBRARY_PATH=$libs ./by_pkg_config
        g++ -x c++ -std=c++17 -Wall -Werror user.c -o by_cpp -x none $(pkg-config --cflags --libs lookfall)
        LD_LIBRARY_PATH=$libs ./by_cpp
        unset PKG_CONFIG_PATH
        cmake -S . -B user-build -DCMAKE_PREFIX_PATH="$PWD/prefix" -DWANTED="$version" >cmake.log 2>&1 ||
            { cat cmake.log; exit 1; }
        cmake --build user-build >cmake.log 2>&1 || { cat cmake.log; exit 1; }
        user-build/user
        # the program finds its library beside it
        prefix/bin/lookfall --help >/dev/null
    )
}
