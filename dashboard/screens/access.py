"""Who may come in, and what has been done?"""

from datetime import UTC, datetime
from urllib.parse import urlsplit

import polars as pl
import streamlit as st

from dashboard.data import actions, readings, snapshots
from dashboard.parts import words
from pipelines.accounts.accounts import Access, Person
from pipelines.definitions.errors import Stop

TITLE = "Who may sign in"
ORDER = 90
GROUP = "People"
ROLES = ("coordinator",)
CODE, ADDED = "new_code", "accounts_added"
ASKED = """\
We would like troop leaders to reach a web application that runs on one of our machines. Please set up:
1. a name for it, such as sale.example.org, that leads to that machine;
2. a web server there that takes HTTPS for that name and hands requests on to 127.0.0.1, port 8501, web sockets too
   (a ready configuration for nginx comes with the program: dashboard/web/nginx.conf), and a certificate;
3. the program as a service: musterbook serve --book FOLDER --behind-proxy --name sale.example.org
Nothing else need be open. Leaders sign in with personal codes that the coordinator issues."""
KINDS = {
    "leader": "Leader: her own troops",
    "coordinator": "Coordinator: everything",
    "viewer": "Viewer: the area's sums",
}


def state(people: list[Person]) -> str:
    """One sentence of the state, as Markdown."""
    open_ = [one for one in people if not one.withdrawn]
    leaders = sum(one.role == "leader" for one in open_)
    return f"{words.bold(words.plural(len(open_), 'account'))} may come in, {leaders} of them leaders'."


def code_shown() -> None:
    """A code that was just issued: shown once."""
    shown = st.session_state.pop(CODE, None)
    if shown:
        name, code = shown
        with st.container(border=True):
            at, is_here = where()
            st.markdown(f"{words.bold(name)} signs in at {words.bold(at)} with this code. It is shown this once:")
            st.code(code, language=None)
            if is_here:
                st.caption("That address works on this machine alone: see From other machines, below.")
            st.caption("Hand it over in person or by phone, not by mail together with the name.")


def where() -> tuple[str, bool]:
    """The address that this dashboard is asked by, and whether it works on this machine alone."""
    stated = urlsplit(st.context.url or "")
    at = f"{stated.scheme}://{stated.netloc}" if stated.netloc else f"http://{st.context.headers.get('Host', '')}"
    return at, (stated.hostname or "127.0.0.1") in {"127.0.0.1", "localhost"}


def from_elsewhere() -> None:
    """What it takes that leaders come in from their own machines, and whom to ask for it."""
    at, is_here = where()
    st.subheader("From other machines", anchor=False)
    if not is_here:
        st.markdown(f"Leaders come in at {words.bold(at)}, each with her own name and code.")
        return
    st.markdown(
        "By now this dashboard answers on this machine alone. That leaders come in from theirs takes a name on the "
        "internet and a certificate, so that nobody can read what is sent. Ask whoever looks after your organisation's "
        "website; this is what to send:"
    )
    st.code(ASKED, language=None, wrap_lines=True)
    st.caption("Until then leaders send their workbooks by mail, and you drop them on Submissions.")


def add(access: Access, troops: list[str]) -> None:
    """Lets somebody in, with a code of their own."""
    with st.form(f"add_account_{st.session_state.get(ADDED, 0)}", border=True):
        st.subheader("Let somebody in", anchor=False)
        name = st.text_input("Name to sign in with", placeholder="leader-0417", max_chars=80)
        role = st.selectbox("What they may see", list(KINDS), format_func=lambda one: KINDS[one])
        led = st.multiselect("Their troops, if they lead any", troops)
        email = st.text_input("Address, only for an organisation's own sign-in", max_chars=200)
        pressed = st.form_submit_button("Issue a code", type="primary")
    if pressed:
        me = snapshots.viewer().name
        try:
            code = access.add(name, role, led if role == "leader" else (), by=me, email=email or None)
        except Stop as stop:
            st.warning(words.plain(str(stop)))
            return
        st.session_state[CODE] = (name.strip().casefold(), code)
        st.session_state[ADDED] = st.session_state.get(ADDED, 0) + 1  # an empty form for the next one
        st.rerun()


def change(access: Access, people: list[Person], troops: list[str]) -> None:
    """Another role, other troops, a new code, signed out, or out for good: from the next click on."""
    st.subheader("Change an account", anchor=False)
    names = [one.name for one in people if not one.withdrawn]
    name = st.selectbox("Account", names, index=None, placeholder="Choose an account")
    one = next((person for person in people if person.name == name), None)
    if one is None:
        return
    me = snapshots.viewer().name
    with st.container(border=True):
        role = st.selectbox(
            "What they may see", list(KINDS), index=list(KINDS).index(one.role), format_func=lambda kind: KINDS[kind],
            key=f"role {one.name}",
        )  # fmt: skip
        options = sorted({*troops, *one.troops})
        led = st.multiselect("Their troops", options, default=list(one.troops), key=f"troops {one.name}")
        with st.container(horizontal=True):
            if st.button("Change"):
                try:
                    access.change(one.name, role, led if role == "leader" else (), by=me)
                except Stop as stop:
                    st.warning(words.plain(str(stop)))
                else:
                    st.rerun()
            if st.button("New code"):
                st.session_state[CODE] = (one.name, access.renew(one.name, by=me))
                st.rerun()
            if st.button("Sign out everywhere"):
                access.sign_out_everywhere(one.name, by=me)
                st.rerun()
            if st.button("Withdraw"):
                try:
                    access.withdraw(one.name, by=me)
                except Stop as stop:
                    st.warning(words.plain(str(stop)))
                else:
                    st.rerun()
        st.caption("Each works on their next click, on pages that are open too.")


def listed(people: list[Person]) -> None:
    """Every account."""
    shown = pl.DataFrame(
        [{"Name": one.name, "Sees": KINDS[one.role].partition(":")[0], "Troops": ", ".join(one.troops),
          "State": "withdrawn" if one.withdrawn else "has a code" if one.has_code else "no code",
          "Signed in": one.sign_ins} for one in people],
        schema={"Name": pl.String, "Sees": pl.String, "Troops": pl.String, "State": pl.String, "Signed in": pl.Int64},
    )  # fmt: skip
    st.dataframe(shown, hide_index=True, alt="Accounts", key="accounts")


def log(access: Access) -> None:
    """What was done: append-only, without codes."""
    st.subheader("What was done", anchor=False)
    entries = access.store.log(500)
    shown = pl.DataFrame(
        [{"When": words.instant(datetime.fromtimestamp(one.at, UTC).replace(tzinfo=None)), "Who": one.who,
          "What": one.what, "About": one.about, "From": one.address} for one in entries],
        schema={"When": pl.String, "Who": pl.String, "What": pl.String, "About": pl.String, "From": pl.String},
    )  # fmt: skip
    st.dataframe(shown, hide_index=True, alt="The newest entries of the log", key="log", height=420)
    st.caption(
        "The newest 500 entries. Nothing in it can be altered; beyond 50,000 the oldest go. No code stands in it."
    )


def show() -> None:
    """The screen."""
    access = actions.access()
    people = access.people()
    troops = [row["troop"] for row in readings.now().facts("troops")]
    st.markdown(f"#### {state(people)}")
    code_shown()
    if actions.may_change_accounts():
        add(access, troops)
        change(access, people, troops)
    else:
        again = "[Sign in again](/sign-in/again?next=/access)"
        st.markdown(f"{again}, with your code or by a new link, to change who may come in.")
    listed(people)
    from_elsewhere()
    log(access)


show()
