from rest_framework.permissions import BasePermission


class PolicyPermission(BasePermission):
    def has_permission(self, request, view):
        return False
