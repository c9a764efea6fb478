"""From the picked fruit to dry seed: runs, equipment, yields."""
