// Who decides: a name, and whether the second look is blind. The name goes with every decision.

import {post} from "./api.js";
import {h, replace} from "./dom.js";
import {desk} from "./state.js";
import {percent} from "./words.js";

const DRAFT = "lookfall.sign-in";

export function open_sign_in(can_leave, done) {
    const draft = JSON.parse(sessionStorage.getItem(DRAFT) ?? "{}");
    const name = h("input", {type: "text", id: "sign-name", maxLength: 100, required: true,
        autocomplete: "off", value: draft.name ?? desk.study.reviewer ?? "",
        "aria-describedby": "sign-told"});
    const blind = h("input", {type: "checkbox", id: "sign-blind",
        checked: draft.blind ?? desk.study.blind});
    const share = h("input", {type: "range", id: "sign-share", min: 0.05, max: 1, step: 0.05,
        value: draft.share ?? desk.study.blind_share ?? 0.2});
    const share_words = h("output", {htmlFor: "sign-share"});
    const told = h("p", {id: "sign-told", class: "told", role: "alert"});
    const keep_draft = () => {
        sessionStorage.setItem(DRAFT, JSON.stringify({name: name.value, blind: blind.checked,
            share: share.value}));
        replace(share_words, `${percent(Number(share.value))} of the doubtful stretches`);
        share_row.hidden = !blind.checked;
    };
    const go = h("button", {type: "submit", class: "main"}, "Start");
    const share_row = h("p", {class: "row"}, h("label", {htmlFor: "sign-share"}, "How much"),
        share, share_words);
    const form = h("form", {method: "dialog", oninput: keep_draft},
        h("h1", {}, "Who is looking?"),
        h("p", {}, "Your name is kept with every decision you make in ",
            h("strong", {}, desk.study.name), "."),
        h("p", {class: "row"}, h("label", {htmlFor: "sign-name"}, "Name"), name),
        desk.study.reviewers.length ? h("p", {class: "row names"}, h("span", {}, "Here before"),
            h("span", {class: "choices"}, desk.study.reviewers.map((known) =>
                h("button", {type: "button", onclick: () => {
                    name.value = known;
                    keep_draft();
                    go.focus();
                }}, known)))) : null,
        h("p", {class: "row"}, h("span"), h("label", {htmlFor: "sign-blind", class: "check"}, blind,
            " A second look, blind: I do not see what others decided")),
        share_row, told,
        h("p", {class: "row end"}, h("span"), h("span", {class: "choices"}, go,
            can_leave ? h("button", {type: "button", onclick: () => dialog.close()}, "Leave") : null)));
    const invited = h("p", {class: "row", hidden: true});
    const invite = async () => {
        try {
            const {url} = await post("/api/invite");
            const link = h("input", {type: "text", id: "sign-link", value: url, readOnly: true});
            replace(invited, h("label", {htmlFor: "sign-link"}, "Good once, on this machine"), link);
            invited.hidden = false;
            link.focus();
            link.select();
        } catch (error) {
            replace(told, error.message);
        }
    };
    if (can_leave)
        form.append(h("p", {class: "row"}, h("span", {}, "Somebody else"), h("span", {class: "choices"},
            h("button", {type: "button", onclick: invite}, "Make a link for one more browser"))), invited);
    const dialog = h("dialog", {class: "sign-in", "aria-label": "Sign in"}, form);
    form.onsubmit = async (event) => {
        event.preventDefault();
        if (!name.value.trim()) {
            replace(told, "A name is needed.");
            name.focus();
            return;
        }
        go.disabled = true;
        try {
            const study = await post("/api/sign-in", {name: name.value.trim(),
                blind: blind.checked, blind_share: Number(share.value)});
            sessionStorage.removeItem(DRAFT);
            dialog.close();
            done(study);
        } catch (error) {
            replace(told, error.message);
        } finally {
            go.disabled = false;
        }
    };
    dialog.oncancel = (event) => {
        if (!can_leave)
            event.preventDefault();
    };
    dialog.onclose = () => dialog.remove();
    document.body.append(dialog);
    keep_draft();
    dialog.showModal();
    name.focus();
    name.select();
}
