"""Pictures of a sweep: what they show is worked out first, each kind is drawn by a module of its own."""
