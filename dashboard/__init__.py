"""The dashboard: screens that each answer one question, read from published snapshots.

app      one navigation, one frame, a page for each file in screens/
web      before the app: the gate, the sign-in pages, the guard of web sockets, the server
screens  one file a screen: words first, then a picture, then the table behind it
parts    what screens share: explained figures, tables, charts and their words, calls, the account
data     snapshots, readings and actions for one signed-in person; downloads; sending
"""
