"""Make the joint: cement, threads, tube ends.

Cure over a forecast is ours: each hour counts as its share of the time that hour's temperature
would need, and the joint is ready when the shares reach one. The published rule, the coldest
hour, always stands beside it.
"""
