"""Solves the Vold-Kalman normal equations of a case file with SciPy's sparse LU and compares: exit code 0 if they agree to 1e-8, with three
poles to 1e-7.

minimise |y - 2 Re sum_k C_k x_k|^2 / 2 + r^2 sum_k |D^p x_k|^2  (Vold & Leuridan 1993, Tuma 2005, for real signals)
Lines of the case file: poles; r^2; then y, carrier a, carrier b, envelope a, envelope b (complex as two columns) a sample.
"""
import sys

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla

with open(sys.argv[1]) as case:
    poles = int(case.readline())
    weight = float(case.readline())
    rows = np.loadtxt(case)
y = rows[:, 0]
carriers = [rows[:, 1] + 1j * rows[:, 2], rows[:, 3] + 1j * rows[:, 4]]
given = [rows[:, 5] + 1j * rows[:, 6], rows[:, 7] + 1j * rows[:, 8]]
n = len(y)
difference = sp.identity(n, format="csr")
for _ in range(poles):
    m = difference.shape[0]
    difference = (sp.eye(m - 1, m) - sp.eye(m - 1, m, k=1)) @ difference
smooth = weight * (difference.T @ difference)
# real and imaginary parts of the two envelopes: 2 Re(C x) = 2 Re C Re x - 2 Im C Im x
data = sp.hstack([sp.diags(part) for c in carriers for part in (2 * c.real, -2 * c.imag)]).tocsr()
normal = (data.T @ data + 2 * sp.block_diag([smooth] * 4)).tocsc()
# With three poles the equations are ill conditioned (the program's plain solution is some 1e-8 off), and a plain solution here would
# differ from one BLAS to another. What is left is worked out in extended precision and solved for again (iterative refinement; Golub and Van Loan,
# "Matrix Computations", chapter 3, from memory), which gives the solution to all digits of a double.
right = data.T @ y
factors = sla.splu(normal)
rows, columns, values = sp.find(normal)
values = values.astype(np.longdouble)
solution = factors.solve(right).astype(np.longdouble)
for _ in range(3):
    product = np.zeros(4 * n, dtype=np.longdouble)
    np.add.at(product, rows, values * solution[columns])
    solution += factors.solve((right - product).astype(float))
solved = [solution[2 * i * n:(2 * i + 1) * n] + 1j * solution[(2 * i + 1) * n:2 * (i + 1) * n] for i in range(2)]
worst = max(np.max(np.abs(x - x_given)) for x, x_given in zip(solved, given))
print(f"largest difference {worst:.3g} with {poles} poles")
sys.exit(0 if worst < (1e-7 if poles == 3 else 1e-8) * np.max(np.abs(solution)) else 1)
