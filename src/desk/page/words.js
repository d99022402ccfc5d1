// Numbers and names as people read them.

export const STATES = ["lost", "away", "blocked", "doubtful", "sure", "placed"];
export const STATE_WORDS = ["no gaze", "on no photo", "something in front", "doubtful", "sure",
    "placed by a person"];

export const DECISIONS = {
    accept: "kept as guessed", rival: "moved to the other place", point: "put by hand",
    tie: "put by ties", away: "on no photo", blocked: "something in front",
};

export const capital = (words) => words.charAt(0).toUpperCase() + words.slice(1);

// 3:05.240; hours only where there are any.
export function clock(us, decimals = 3) {
    const unit = 10 ** decimals;
    let rest = Math.round(Math.max(us, 0) / 1e6 * unit);
    const part = rest % unit;
    rest = Math.floor(rest / unit);
    const [h, m, sec] = [Math.floor(rest / 3600), Math.floor(rest / 60) % 60, rest % 60];
    const two = (n) => String(n).padStart(2, "0");
    return (h ? `${h}:${two(m)}` : `${m}`) + `:${two(sec)}` +
        (decimals ? `.${String(part).padStart(decimals, "0")}` : "");
}

// A length of time in a few letters: 840 ms, 1.4 s, 3 min, 2.5 h.
export function span(us) {
    const sec = us / 1e6;
    if (sec < 0.9995)
        return `${Math.round(sec * 1000)} ms`;
    if (sec < 99.5)
        return `${sec.toFixed(1)} s`;
    return minutes(sec / 60);
}

export function minutes(value) {
    if (value < 1)
        return "under a minute";
    if (value < 99.5)
        return `${Math.round(value)} min`;
    return `${(value / 60).toFixed(1)} h`;
}

export function percent(share) {
    // 100% only where nothing is left, 0% only where nothing is done
    const value = share * 100;
    const whole = Math.round(value);
    if ((whole === 100 && value < 100) || (whole === 0 && value > 0))
        return `${whole === 0 ? "<1" : "99"}%`;
    return `${whole}%`;
}

export function count(n, one, many = `${one}s`) {
    return `${n.toLocaleString("en")} ${n === 1 ? one : many}`;
}

export function by_names(names) {
    return names.length < 2 ? names.join("") :
        `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}
