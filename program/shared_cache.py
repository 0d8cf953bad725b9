"""The cache that several machines share, by the Redis protocol; it may be away or lose everything.

Nothing of the record hangs on it: what is not found is made anew.
"""

from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError


class SharedCache(RedisCache):
    """Django's own, which answers as one that holds nothing while its server is away."""

    def get(self, key, default=None, version=None):
        """Return what is kept, or the default."""
        try:
            return super().get(key, default, version)
        except RedisError:
            return default

    def add(self, key, *args, **kwargs):
        """Keep what is not there yet; tell whether it was kept."""
        try:
            return super().add(key, *args, **kwargs)
        except RedisError:
            return False

    def set(self, key, *args, **kwargs):
        """Keep it, if the server is there."""
        try:
            super().set(key, *args, **kwargs)
        except RedisError:
            pass

    def delete(self, key, version=None):
        """Forget it; tell whether it was there."""
        try:
            return super().delete(key, version)
        except RedisError:
            return False

    def incr(self, key, delta=1, version=None):
        """Return one more than before; `ValueError` where nothing is kept."""
        try:
            return super().incr(key, delta, version)
        except RedisError as error:
            raise ValueError(str(error)) from error
