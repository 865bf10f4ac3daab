def report(*a):
    pass
