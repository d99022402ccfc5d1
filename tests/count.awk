# Adds up the tests in the log of `ctest -V` whose programs speak TAP (cmocka with
# CMOCKA_MESSAGE_OUTPUT=TAP; http://testanything.org, version 13). Prints "PASSED FAILED SKIPPED" and,
# on stderr, each failure and each skip.
#
# A program that ends before its plan is through has failed the rest of it; one that fails without a
# failed test (a leak, a crash at the end) has failed once; one without a plan is one test.

function tell(text) { print "  " text > "/dev/stderr" }

match($0, /^[0-9]+: /) {
    id = substr($0, 1, RLENGTH - 2)
    line = substr($0, RLENGTH + 1)
    if (line ~ /^Test command: /)
        next
    if (line ~ /^1\.\.[0-9]+$/) {
        plan[id] += substr(line, 4)
    } else if (line ~ /^(not )?ok [0-9]+ # SKIP/) {
        seen[id]++
        skipped[id]++
        sub(/^.*# SKIP */, "", line)
        skips[id] = skips[id] "\n    " line
    } else if (line ~ /^ok [0-9]+ /) {
        seen[id]++
        passed[id]++
    } else if (line ~ /^not ok [0-9]+ /) {
        seen[id]++
        failed[id]++
        why[id] = why[id] "\n    " line
        if (error[id])
            why[id] = why[id] "\n    " error[id]
        error[id] = ""
    } else if (line ~ /^ERROR: /) {
        error[id] = line
    } else if (line ~ /^skipped: /) {
        skips[id] = skips[id] "\n    " line
    } else if (line ~ /^# / && failed[id] && line !~ /^# (not )?ok/) {
        why[id] = why[id] "\n    " line
    } else if (line ~ /(ERROR: (Address|Leak)Sanitizer|runtime error:)/) {
        why[id] = why[id] "\n    " line
    }
    next
}

# " 3/40 Test  #7: gaze/read ......   Passed    0.03 sec"
match($0, /^ *[0-9]+\/[0-9]+ Test +#[0-9]+: /) {
    rest = substr($0, RLENGTH + 1)
    split(rest, word, " ")
    id = $0
    sub(/^[^#]*#/, "", id)
    sub(/:.*/, "", id)
    programs++
    good = rest ~ / Passed /
    left_out = rest ~ /\*\*\*Skipped/
    if (!plan[id]) {
        if (good)
            passed[id]++
        else if (left_out)
            skipped[id]++
        else
            failed[id]++
    } else {
        if (seen[id] < plan[id]) {
            failed[id] += plan[id] - seen[id]
            why[id] = why[id] "\n    ended after " (seen[id] + 0) " of " plan[id] " tests"
        }
        if (!good && !left_out && !failed[id])
            failed[id]++
        if (left_out && !skipped[id])
            skipped[id]++
    }
    if (failed[id])
        tell("FAILED " rest why[id])
    if (skipped[id])
        tell("skipped: " skipped[id] " of " word[1] skips[id])
    p += passed[id]
    f += failed[id]
    s += skipped[id]
}

END {
    if (!programs) {
        tell("FAILED ctest ran no test")
        f++
    }
    print p + 0, f + 0, s + 0
}
