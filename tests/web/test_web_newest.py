import asyncio
import threading

from roomwright._errors import InputError
from roomwright.web.newest import Newest


def test_of_questions_that_come_meanwhile_only_the_last_is_answered():
    began, go, asked, shown = threading.Event(), threading.Event(), [], []

    def compute(question):
        asked.append(question)
        began.set()
        go.wait(10)
        return -question

    async def ask():
        newest = Newest(compute, shown.append, shown.append)
        first = asyncio.create_task(newest.ask(1))
        await asyncio.to_thread(began.wait, 10)
        for question in (2, 3, 4):
            await newest.ask(question)
        go.set()
        await first

    asyncio.run(ask())
    assert asked == [1, 4]
    assert shown == [-1, -4]


def test_a_refusal_is_shown_and_the_next_question_answered():
    shown, refused = [], []

    def compute(question):
        if question < 0:
            raise InputError("below 0")
        return question

    async def ask():
        newest = Newest(compute, shown.append, refused.append)
        await newest.ask(-1)
        await newest.ask(5)

    asyncio.run(ask())
    assert (shown, refused) == ([5], ["below 0"])
