# Debian packages that are needed and not there. To be sourced by bash:
#   lf_packages_need GROUP...   installs what the groups of .ci/packages lack, or says how and fails.

lf_packages_missing() {
    local list=$1 group name program
    shift
    while read -r group name program; do
        [[ -z $group || $group == \#* || " $* " != *" $group "* ]] && continue
        [[ -n $program ]] && command -v "$program" >/dev/null && continue
        [[ $(dpkg-query -W -f '${db:Status-Status}' "$name" 2>/dev/null) == installed ]] || echo "$name"
    done <"$list"
}

lf_packages_need() {
    local list missing as_root=()
    list=$(dirname "${BASH_SOURCE[0]}")/packages
    if ! command -v dpkg-query >/dev/null; then
        echo "This is no Debian system; see $list for what is needed." >&2
        return 0
    fi
    mapfile -t missing < <(lf_packages_missing "$list" "$@")
    ((${#missing[@]} == 0)) && return 0
    if [[ $(id -u) != 0 ]]; then
        if ! sudo -n true 2>/dev/null; then
            echo "Debian packages are missing. Please run this line, then start again:" >&2
            echo "  sudo apt-get update && sudo apt-get install -y --no-install-recommends ${missing[*]}" >&2
            return 4
        fi
        as_root=(sudo -n)
    fi
    echo "Installing ${#missing[@]} Debian packages ..." >&2
    local apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq)
    "${apt[@]}" update >&2
    "${apt[@]}" install -y --no-install-recommends "${missing[@]}" >/dev/null
}
