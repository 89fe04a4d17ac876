"""The readers' door: who asks, the figures they may see, what changed, and statistics that SQL cannot say plainly."""
