"""One shared setting: its drift, the best one, dusk and dawn over an area."""
