"""Will the signal be there: path, chain of devices, fading and diversity, for one link at its farthest point.

Equations stand in modules of their own (`path`, `walls`, `cable`, `cascade`, `fading`, `sound`), each with its source;
`models` is the registry of path models with the ranges they hold in; `budget` puts a job's links together from them.
"""
