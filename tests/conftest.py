from hypothesis import settings

settings.register_profile("reachmap", deadline=None, derandomize=True, max_examples=50)
settings.load_profile("reachmap")
