"""A retry storm with a kill in the middle has one effect, on both databases: ten rounds of the thousand."""

import random

from idempotency_storm import storm


def test_ten_rounds_of_fifty_posts_with_a_kill_in_the_middle(database_url, catalog, texts):
    assert sum(storm(database_url, catalog, texts, 10, random.Random()).values()) == 10
