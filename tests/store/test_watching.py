"""Workstations on one store notice what the others post, and are not told of what they post themselves."""

from collections.abc import Iterator
from contextlib import closing

import pytest
from sqlalchemy import text

from inventory.errors import NotAllowed, StoreUnreachable
from inventory.store.engine import Store, open_store
from inventory.store.watching import Watch


def post(store: Store, key: str) -> None:
    with store.writing() as session:
        session.execute(text("INSERT INTO setting (key, value) VALUES (:key, '1')"), {"key": key})


@pytest.fixture
def ours(empty_store_url: str) -> Iterator[Store]:
    with closing(open_store(empty_store_url)) as store:
        yield store


@pytest.fixture
def theirs(ours: Store, empty_store_url: str) -> Iterator[Store]:
    del ours  # it is made first
    with closing(open_store(empty_store_url)) as store:
        yield store


def test_what_another_posts_is_noticed_once_and_what_we_post_is_not(ours: Store, theirs: Store) -> None:
    with closing(Watch(ours)) as watch:
        assert not watch.others_posted()
        post(ours, "a")
        assert not watch.others_posted()
        post(theirs, "b")
        post(ours, "c")
        assert watch.others_posted()
        assert not watch.others_posted()


def test_what_was_posted_before_the_watch_began_or_was_taken_back_is_no_news(ours: Store, theirs: Store) -> None:
    post(theirs, "a")
    with closing(Watch(ours)) as watch:
        with pytest.raises(NotAllowed):
            post(theirs, "a")  # it is there already
        assert not watch.others_posted()


@pytest.mark.parametrize("new_stores", ["postgresql"], indirect=True)
def test_after_a_broken_connection_everything_may_have_changed(ours: Store, theirs: Store) -> None:
    with closing(Watch(ours)) as watch:
        with theirs.writing() as session:
            session.execute(
                text("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid()"
                     " AND datname = current_database()")
            )  # fmt: skip
        with pytest.raises(StoreUnreachable):
            watch.others_posted()
        assert watch.others_posted()
        assert not watch.others_posted()
