"""The dashboard: screens that each answer one question, read from published snapshots through queries.

server    who may come in; everything else is the app's
app       one navigation, one frame, a page for each file in screens/
queries   cached readings for one signed-in person and one snapshot
screens/  one file a screen: words first, then a picture, then the table behind it
"""
