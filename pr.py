import cProfile, pstats, sys, time

t = time.process_time()
sys.argv = ["routefinder", "find", "sarin"]
from routefinder.cli import main

p = cProfile.Profile()
p.enable()
try:
    main.run()
except SystemExit:
    pass
p.disable()
print(time.process_time() - t)
pstats.Stats(p).sort_stats("cumtime").print_stats(60)
