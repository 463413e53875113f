"""Holds our arithmetic against libraries that others wrote: GTC, scipy, numpy, statsmodels and scikit-rf.

Usage: run.py JUDGE PATH, the built examples `judge_oracle` and `path_oracle`. Prints each check with its largest deviation and
what is allowed, then `N passed, M failed`; ends with 1 if one failed.
"""

import sys
import traceback

import budgets
import chance
import ports
import shifts
import steps
from asking import Ours


def main():
    judge, path = Ours(sys.argv[1]), Ours(sys.argv[2])
    checks = [(check, judge) for module in (budgets, chance, shifts, steps) for check in module.CHECKS]
    checks += [(check, path) for check in ports.CHECKS]
    failed = 0
    for check, ours in checks:
        try:
            told = check(ours)
            print(f"ok      {check.__doc__.splitlines()[0]}: {told}", flush=True)
        except Exception:
            failed += 1
            print(f"FAILED  {check.__doc__.splitlines()[0]}", flush=True)
            traceback.print_exc()
    judge.end()
    path.end()
    print(f"{len(checks) - failed} passed, {failed} failed")
    return 1 if failed else 0


sys.exit(main())
