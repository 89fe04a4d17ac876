"""A sign-in → the viewer on whose behalf everything is read.

Comes in: a SignIn. Goes out: a Viewer: a coordinator sees all, a leader her troops, a viewer the area's sums.
"""

from pipelines.accounts.accounts import SignIn
from pipelines.figures.viewer import Viewer


def viewer_of(who: SignIn) -> Viewer:
    """What a sign-in may see."""
    match who.role:
        case "coordinator":
            return Viewer(who.name)
        case "leader":
            return Viewer(who.name, frozenset(who.troops))
        case "viewer":
            return Viewer(who.name, frozenset(), sees_area=True)
