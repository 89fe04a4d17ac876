"""Before the app: the gate, the sign-in pages, the guard of web sockets, an organisation's own sign-in, the server."""
