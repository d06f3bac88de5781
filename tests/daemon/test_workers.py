"""Jobs in threads: in order within a name, apart between names, and none that stops the others."""

import threading

from dawnbrew.daemon.workers import Workers


def test_jobs_of_one_name_are_done_one_after_the_other_in_order():
    done, workers = [], Workers(lambda *_: None)
    for number in range(200):
        workers.do("mail", lambda number=number: done.append(number))
    assert workers.wait(5)
    assert done == list(range(200))


def test_a_job_that_hangs_holds_up_only_its_own_name():
    gate, done, workers = threading.Event(), [], Workers(lambda *_: None)
    workers.do("mail", lambda: gate.wait(10))
    workers.do("mail", lambda: done.append("mail"))
    workers.do("push", lambda: done.append("push"))
    assert not workers.wait(0.2)
    assert done == ["push"]
    gate.set()
    assert workers.wait(5)
    assert done == ["push", "mail"]


def test_a_job_that_fails_is_told_and_the_next_one_is_done():
    told, done = [], []
    workers = Workers(lambda name, problem: told.append((name, str(problem))))

    def fail():
        raise ValueError("no")

    workers.do("mail", fail)
    workers.do("mail", lambda: done.append(1))
    assert workers.wait(5)
    assert (told, done) == ([("mail", "no")], [1])


def test_a_defect_that_cannot_be_told_ends_no_queue():
    def no_room(*_):
        raise OSError(28, "No space left on device")

    done, workers = [], Workers(no_room)
    workers.do("mail", lambda: no_room())
    workers.do("mail", lambda: done.append(1))
    assert workers.wait(5)
    assert done == [1]
